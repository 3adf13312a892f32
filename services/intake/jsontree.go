package intake

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"regexp"
	"strconv"
	"strings"
)

// jsonNode is a value of a JSON file with the line that it begins on.
type jsonNode struct {
	line  int
	kind  jsonKind
	text  string // of a number, a string, true, false or null
	names []string
	keys  map[string]*jsonNode
	items []*jsonNode
}

type jsonKind uint8

const (
	jsonNull jsonKind = iota
	jsonBool
	jsonNumber
	jsonString
	jsonList
	jsonObject
)

// jsonDepth is how deep lists and objects may stand in each other.
const jsonDepth = 32

// jsonReader builds a tree that keeps what the standard decoder loses: lines
// and keys that are given twice.
type jsonReader struct {
	s    *sheet
	data []byte
	dec  *json.Decoder
	at   int // bytes whose lines are counted
	line int
}

// json reads a file's text into a tree; nil when it is ill-formed, which is
// noted.
func (s *sheet) json(data []byte) *jsonNode {
	r := &jsonReader{s: s, data: data, dec: json.NewDecoder(bytes.NewReader(data)), line: 1}
	r.dec.UseNumber()
	root, err := r.value("", 0)
	if err == nil && root != nil {
		if _, err = r.dec.Token(); errors.Is(err, io.EOF) {
			return root
		}
		if err == nil {
			s.bad(r.here(), "", "more text", "one JSON value and nothing behind it")
			return nil
		}
	}
	if err != nil {
		why := err.Error()
		if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
			why = "the text ends too soon"
		}
		s.bad(r.here(), "", plainly(why), "well-formed JSON; correct the text")
	}
	return nil
}

// odd is what the decoder says of a character that it cannot use.
var odd = regexp.MustCompile(`^invalid character ('.*?'|\S+) (.*)$`)

// expected is what should be there instead, by the decoder's words.
var expected = map[string]string{
	"looking for beginning of value":             "a value should begin",
	"looking for beginning of object key string": "a name in double quotes should be",
	"after object key":                           "a colon should be",
	"after object key:value pair":                "a comma or } should be",
	"after array element":                        "a comma or ] should be",
	"after top-level value":                      "the text should end",
}

// plainly says what is wrong with a text for people.
func plainly(why string) string {
	why = strings.TrimPrefix(why, "json: ")
	m := odd.FindStringSubmatch(why)
	switch {
	case m == nil:
		return why
	case expected[m[2]] != "":
		return m[1] + " where " + expected[m[2]]
	}
	return m[1] + " cannot stand " + m[2]
}

// here is the line that the decoder has come to.
func (r *jsonReader) here() int {
	to := min(int(r.dec.InputOffset()), len(r.data))
	r.line += bytes.Count(r.data[r.at:to], []byte("\n"))
	r.at = to
	return r.line
}

func (r *jsonReader) value(path string, depth int) (*jsonNode, error) {
	t, err := r.dec.Token()
	if err != nil {
		return nil, err
	}
	n := &jsonNode{line: r.here()}
	switch v := t.(type) {
	case nil:
		n.text = "null"
	case bool:
		n.kind, n.text = jsonBool, strconv.FormatBool(v)
	case json.Number:
		n.kind, n.text = jsonNumber, v.String()
	case string:
		n.kind, n.text = jsonString, v
	case json.Delim:
		if depth == jsonDepth {
			r.s.bad(n.line, path, "lists and objects more than "+strconv.Itoa(jsonDepth)+" deep", "a flatter file")
			return nil, nil
		}
		if v == '[' {
			return r.list(n, path, depth)
		}
		return r.object(n, path, depth)
	}
	return n, nil
}

func (r *jsonReader) list(n *jsonNode, path string, depth int) (*jsonNode, error) {
	n.kind = jsonList
	for i := 0; r.dec.More(); i++ {
		v, err := r.value(path+"["+strconv.Itoa(i)+"]", depth+1)
		if v == nil {
			return nil, err
		}
		n.items = append(n.items, v)
	}
	_, err := r.dec.Token()
	return n, err
}

func (r *jsonReader) object(n *jsonNode, path string, depth int) (*jsonNode, error) {
	n.kind, n.keys = jsonObject, map[string]*jsonNode{}
	if path != "" {
		path += "."
	}
	for r.dec.More() {
		t, err := r.dec.Token()
		if err != nil {
			return nil, err
		}
		key, _ := t.(string)
		if n.keys[key] != nil {
			r.s.bad(r.here(), path+key, "given twice", "each key once; take one out")
			return nil, nil
		}
		v, err := r.value(path+key, depth+1)
		if v == nil {
			return nil, err
		}
		n.names = append(n.names, key)
		n.keys[key] = v
	}
	_, err := r.dec.Token()
	return n, err
}

// shown is a node's value for one line of an error.
func (n *jsonNode) shown() string {
	switch n.kind {
	case jsonList:
		return "a list"
	case jsonObject:
		return "an object"
	}
	return n.text
}
