package access

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"unicode/utf8"

	"go.yaml.in/yaml/v3"

	"seamwright/services/fault"
)

// maxFile is the most bytes that a file of people or users may have: some
// thousands of them.
const maxFile = 1 << 20

// maxTold is how many mistakes of the form are told at once.
const maxTold = 10

var (
	// yamlLine finds the line in an error of the YAML reader, goType the
	// names of this program in it.
	yamlLine = regexp.MustCompile(`^line ([0-9]+): (.*)$`)
	goType   = regexp.MustCompile(` (into|in type) \S+$`)
)

// strictYAML reads one document of known keys, each once, into v, which an
// empty text leaves as it is. form says in an error what the file may hold.
func strictYAML(name string, b []byte, form string, v any) error {
	if len(b) > maxFile {
		return fault.Bad(name, fmt.Sprintf("%d bytes", len(b)), fmt.Sprintf("at most %d bytes; see that it is the file that was meant", maxFile))
	}
	if !utf8.Valid(b) {
		return fault.Bad(name, "bytes that are not UTF-8", "text in UTF-8; save the file as UTF-8")
	}
	dec := yaml.NewDecoder(bytes.NewReader(bytes.TrimPrefix(b, []byte("\uFEFF"))))
	dec.KnownFields(true)
	err := dec.Decode(v)
	if errors.Is(err, io.EOF) {
		return nil
	}
	if err != nil {
		return badForm(name, form, err)
	}
	if err := dec.Decode(new(yaml.Node)); err == nil {
		return fault.Bad(name, "a second document", "one document in the file; join them")
	} else if !errors.Is(err, io.EOF) {
		return badForm(name, form, err)
	}
	return nil
}

// badForm tells each mistake that the YAML reader found, with its line.
func badForm(name, form string, err error) error {
	texts := []string{strings.TrimPrefix(err.Error(), "yaml: ")}
	if e, ok := errors.AsType[*yaml.TypeError](err); ok {
		texts = e.Errors[:min(len(e.Errors), maxTold)]
	}
	var out *fault.Error
	for _, text := range texts {
		at := name
		if m := yamlLine.FindStringSubmatch(text); m != nil {
			at, text = name+":"+m[1], m[2]
		}
		e := fault.Bad(at, shown(goType.ReplaceAllString(text, "")), form)
		if out == nil {
			out = e
		} else {
			out.Join(e)
		}
	}
	return out
}

// shown makes a text of the file fit for one line.
func shown(text string) string { return fault.Show(text, 120) }

// replace writes beside the file, then takes its place, and syncs both.
func replace(path string, b []byte) error {
	f, err := os.OpenFile(path+".new", os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o600)
	if err != nil {
		return err
	}
	_, err = f.Write(b)
	if err := errors.Join(err, f.Sync(), f.Close()); err != nil {
		os.Remove(path + ".new") // on a full disk it is no use to anybody
		return err
	}
	if err := os.Rename(path+".new", path); err != nil {
		return err
	}
	folder, err := os.Open(filepath.Dir(path))
	if err != nil {
		return err
	}
	return errors.Join(folder.Sync(), folder.Close())
}
