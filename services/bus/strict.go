package bus

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode/utf8"

	"seamwright/services/fault"
)

// maxDepth is how deep lists and objects of a message may stand in each other.
const maxDepth = 4

// decode reads a message of at most max bytes into v. It refuses what the
// standard decoder lets pass: keys that are written in another case, given
// twice, or not known, ill-formed UTF-8, and text behind the message. keys
// lists the keys of the object at the top, inner those of objects in lists.
func decode(what string, b []byte, most int, v any, keys, inner []string) error {
	if len(b) > most {
		return fault.Bad(what, fmt.Sprintf("%d bytes", len(b)), fmt.Sprintf("at most %d bytes", most))
	}
	if !utf8.Valid(b) {
		return fault.Bad(what, "ill-formed UTF-8", "text in UTF-8")
	}
	dec := json.NewDecoder(bytes.NewReader(b))
	dec.UseNumber()
	if err := keysOf(dec, "", keys, inner, 0); err != nil {
		return malformed(what, err)
	}
	if _, err := dec.Token(); !errors.Is(err, io.EOF) {
		return malformed(what, errors.New("something stands behind the message"))
	}
	if err := json.Unmarshal(b, v); err != nil {
		return malformed(what, err)
	}
	return nil
}

func malformed(what string, err error) error {
	text := strings.TrimPrefix(err.Error(), "json: ")
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		text = "the text ends too soon"
	}
	f := fault.Wrap(err, fault.Invalid, "bad-"+what, "publish the JSON object that the channel's description names")
	f.Message = what + ": " + fault.Show(text, 200) // it may hold the whole of what was sent
	return f
}

// keysOf reads one value and looks at its keys.
func keysOf(dec *json.Decoder, path string, keys, inner []string, depth int) error {
	t, err := dec.Token()
	if err != nil {
		return err
	}
	d, ok := t.(json.Delim)
	if depth == 0 && d != '{' {
		return fmt.Errorf("it must be an object")
	}
	if !ok {
		return nil
	}
	if depth == maxDepth {
		return fmt.Errorf("lists and objects stand more than %d deep", maxDepth)
	}
	seen := map[string]bool{}
	for dec.More() {
		if d == '[' {
			if err := keysOf(dec, path, inner, nil, depth+1); err != nil {
				return err
			}
			continue
		}
		t, err := dec.Token()
		if err != nil {
			return err
		}
		key, _ := t.(string)
		if seen[key] {
			return fmt.Errorf("key %.60q is given twice", path+key)
		}
		if !slices.Contains(keys, key) {
			return fmt.Errorf("key %.60q is unknown, the keys are %s", path+key, strings.Join(keys, ", "))
		}
		seen[key] = true
		if err := keysOf(dec, path+key+".", nil, inner, depth+1); err != nil {
			return err
		}
	}
	_, err = dec.Token()
	return err
}
