package console

import (
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"seamwright/services/fault"
	"seamwright/services/intake"
)

// readFile opens a file and reads it with one of package intake's readers.
// Errors name the file as it was typed.
func readFile[T any](flag, path string, read func(name string, r io.Reader) (T, error)) (T, error) {
	var none T
	if path == "" {
		return none, missing(flag, "the name of a file")
	}
	info, err := os.Stat(path)
	if err == nil && info.IsDir() {
		return none, fault.Bad(flag, show(path), "a file; this is a folder")
	}
	if err != nil {
		return none, fault.Bad(flag, show(path), "a file that can be read; "+reason(err))
	}
	f, err := os.Open(path)
	if err != nil {
		return none, fault.Bad(flag, show(path), "a file that can be read; "+reason(err))
	}
	defer f.Close()
	return read(path, f)
}

// reason is what the system said, without the path that stands beside it.
func reason(err error) string {
	for {
		u, ok := err.(interface{ Unwrap() error })
		if !ok {
			return err.Error()
		}
		err = u.Unwrap()
	}
}

// readFolder reads every file of a folder that ends in one of the given
// ways, in order of name; id finds files that say the same name twice.
func readFolder[T any](flag, dir string, endings []string, read func(name string, r io.Reader) (T, error), id func(T) string) ([]T, error) {
	if dir == "" {
		return nil, missing(flag, "the name of a folder")
	}
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil, fault.Bad(flag, show(dir), "a folder that can be read; "+reason(err))
	}
	var out []T
	seen := make(map[string]string)
	for _, e := range entries { // ReadDir sorts by name
		if e.IsDir() || !slices.Contains(endings, strings.ToLower(filepath.Ext(e.Name()))) {
			continue
		}
		path := filepath.Join(dir, e.Name())
		one, err := readFile(flag, path, read)
		if err != nil {
			return nil, err
		}
		if before, twice := seen[id(one)]; twice {
			return nil, fault.Bad(path+" id", show(id(one)), "an identifier of its own; "+before+" has it")
		}
		seen[id(one)] = path
		out = append(out, one)
	}
	if len(out) == 0 {
		return nil, fault.Bad(flag, show(dir), "a folder with at least one file ending in "+strings.Join(endings, " or "))
	}
	return out, nil
}

var yamlFiles = []string{".yaml", ".yml"}

func readProducts(flag, dir string) ([]intake.Product, error) {
	return readFolder(flag, dir, yamlFiles, intake.ReadProduct, func(p intake.Product) string { return p.ID })
}
