package intake

import (
	"bytes"
	"errors"
	"io"
	"regexp"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"
)

// yamlLine finds the line in an error of the YAML reader.
var yamlLine = regexp.MustCompile(`line ([0-9]+): (.*)`)

// mapping reads the file as one YAML mapping. Nil means that a mistake was
// noted.
func (s *sheet) mapping(data []byte, keys ...string) *mapping {
	dec := yaml.NewDecoder(bytes.NewReader(data))
	var doc, next yaml.Node
	if err := dec.Decode(&doc); err != nil {
		s.badYAML(err)
		return nil
	}
	if err := dec.Decode(&next); !errors.Is(err, io.EOF) {
		if err != nil {
			s.badYAML(err)
		} else {
			s.bad(next.Line, "", "a second document", "one document in a file; put each into a file of its own")
		}
		return nil
	}
	return s.node(doc.Content[0], "", keys)
}

func (s *sheet) badYAML(err error) {
	text := strings.TrimPrefix(err.Error(), "yaml: ")
	if m := yamlLine.FindStringSubmatch(text); m != nil {
		n, _ := strconv.Atoi(m[1])
		s.bad(n, "", m[2], "well-formed YAML")
		return
	}
	s.bad(0, "", text, "well-formed YAML")
}

// mapping is a YAML mapping whose keys are known.
type mapping struct {
	s     *sheet
	path  string // "cure.", or empty at the top
	line  int
	names []string // keys as they stand, for mappings with free keys
	nodes map[string]*yaml.Node
}

// node reads a node as a mapping with these keys; no keys means that any
// key is allowed. A null value counts as absent.
func (s *sheet) node(n *yaml.Node, field string, keys []string) *mapping {
	if n.Kind != yaml.MappingNode {
		s.bad(n.Line, field, nodeText(n), "keys and values")
		return nil
	}
	m := &mapping{s: s, line: n.Line, nodes: map[string]*yaml.Node{}}
	if field != "" {
		m.path = field + "."
	}
	seen := map[string]bool{}
	for i := 0; i+1 < len(n.Content); i += 2 {
		k, v := n.Content[i], n.Content[i+1]
		if k.Kind != yaml.ScalarNode {
			s.bad(k.Line, field, nodeText(k), "a key that is a word")
			continue
		}
		switch {
		case seen[k.Value]:
			s.bad(k.Line, m.path+k.Value, "repeated key", "each key once; take one out")
			continue
		case len(keys) > 0 && !contains(keys, k.Value):
			s.bad(k.Line, m.path+show(k.Value), "unknown key", "one of "+strings.Join(keys, ", "))
		case v.Tag != "!!null":
			m.names = append(m.names, k.Value)
			m.nodes[k.Value] = v
		}
		seen[k.Value] = true
	}
	return m
}

func contains(all []string, s string) bool {
	for _, a := range all {
		if a == s {
			return true
		}
	}
	return false
}

// nodeText describes a node in an error.
func nodeText(n *yaml.Node) string {
	switch n.Kind {
	case yaml.MappingNode:
		return "a mapping"
	case yaml.SequenceNode:
		return "a list"
	case yaml.AliasNode:
		return "an alias"
	case yaml.ScalarNode:
		return n.Value
	}
	return "nothing"
}

// has reports whether the key is there with a value.
func (m *mapping) has(key string) bool { return m != nil && m.nodes[key] != nil }

// need notes a mistake when the key is absent.
func (m *mapping) need(key, limit string) bool {
	if m.has(key) {
		return true
	}
	m.s.bad(m.line, m.path+key, "missing", "required: "+limit)
	return false
}

// scalar gives the text of a value, or notes a mistake.
func (m *mapping) scalar(key, limit string) (string, bool) {
	n := m.nodes[key]
	if n.Kind != yaml.ScalarNode || n.Anchor != "" {
		m.s.bad(n.Line, m.path+key, nodeText(n), limit)
		return "", false
	}
	return strings.TrimSpace(n.Value), true
}

// number reads an optional number.
func (m *mapping) number(key string, p span) (float64, bool) {
	if !m.has(key) {
		return 0, false
	}
	text, ok := m.scalar(key, p.String())
	if !ok {
		return 0, false
	}
	x, ok := number(text, p)
	if !ok {
		m.s.bad(m.nodes[key].Line, m.path+key, text, p.String())
	}
	return x, ok
}

// needNumber reads a required number.
func (m *mapping) needNumber(key string, p span) float64 {
	if !m.need(key, p.String()) {
		return 0
	}
	x, _ := m.number(key, p)
	return x
}

// maybe reads an optional number, nil when absent.
func (m *mapping) maybe(key string, p span) *float64 {
	if x, ok := m.number(key, p); ok {
		return &x
	}
	return nil
}

// text reads an optional line of text of at most n characters.
func (m *mapping) text(key string, n int) string {
	if !m.has(key) {
		return ""
	}
	limit := "one line of 1 to " + strconv.Itoa(n) + " characters"
	text, ok := m.scalar(key, limit)
	if ok && (text == "" || !line(text, n)) {
		m.s.bad(m.nodes[key].Line, m.path+key, text, limit)
		return ""
	}
	return text
}

// matching reads an optional text of a given form.
func (m *mapping) matching(key string, form *regexp.Regexp, limit string) string {
	if !m.has(key) {
		return ""
	}
	text, ok := m.scalar(key, limit)
	if ok && !form.MatchString(text) {
		m.s.bad(m.nodes[key].Line, m.path+key, text, limit)
		return ""
	}
	return text
}

// id reads a required identifier.
func (m *mapping) id(key string) string {
	if !m.need(key, identifierLimit) {
		return ""
	}
	return m.matching(key, identifier, identifierLimit)
}

// word reads an optional word of a vocabulary.
func word[W ~string](m *mapping, key string, all []W) W {
	if !m.has(key) {
		return ""
	}
	text, ok := m.scalar(key, oneOf(all))
	if !ok {
		return ""
	}
	for _, a := range all {
		if string(a) == text {
			return a
		}
	}
	m.s.bad(m.nodes[key].Line, m.path+key, text, oneOf(all))
	return ""
}

// list gives the items of an optional list of at most n.
func (m *mapping) list(key string, n int, limit string) []*yaml.Node {
	if !m.has(key) {
		return nil
	}
	v := m.nodes[key]
	if v.Kind != yaml.SequenceNode || v.Anchor != "" {
		m.s.bad(v.Line, m.path+key, nodeText(v), limit)
		return nil
	}
	if len(v.Content) > n {
		m.s.bad(v.Line, m.path+key, strconv.Itoa(len(v.Content))+" items", "at most "+strconv.Itoa(n)+" items")
		return nil
	}
	return v.Content
}

// numbers reads an optional list of exactly as many numbers as spans.
func (m *mapping) numbers(key string, ps ...span) []float64 {
	limit := "a list of " + strconv.Itoa(len(ps)) + " numbers"
	items := m.list(key, len(ps), limit)
	if items == nil {
		return nil
	}
	if len(items) != len(ps) {
		m.s.bad(m.nodes[key].Line, m.path+key, strconv.Itoa(len(items))+" items", limit)
		return nil
	}
	out := make([]float64, len(ps))
	for i, n := range items {
		x, ok := number(nodeText(n), ps[i])
		if n.Kind != yaml.ScalarNode || !ok {
			m.s.bad(n.Line, m.path+key+"["+strconv.Itoa(i)+"]", nodeText(n), ps[i].String())
			return nil
		}
		out[i] = x
	}
	return out
}

// words reads an optional list of words of a vocabulary, each at most once.
func words[W ~string](m *mapping, key string, all []W) []W {
	var out []W
	for _, n := range m.list(key, 100, "a list of words, each "+oneOf(all)) {
		found := false
		for _, a := range all {
			if n.Kind == yaml.ScalarNode && strings.TrimSpace(n.Value) == string(a) {
				found = true
				for _, b := range out {
					if a == b {
						m.s.bad(n.Line, m.path+key, n.Value, "each word once; take one out")
					}
				}
				out = append(out, a)
			}
		}
		if !found {
			m.s.bad(n.Line, m.path+key, nodeText(n), oneOf(all))
		}
	}
	return out
}

// sub reads an optional inner mapping.
func (m *mapping) sub(key string, keys ...string) *mapping {
	if !m.has(key) {
		return nil
	}
	return m.s.node(m.nodes[key], m.path+key, keys)
}

// lineOf is the line that a key's value stands on, for mistakes about how
// values go together.
func (m *mapping) lineOf(key string) int {
	if m.has(key) {
		return m.nodes[key].Line
	}
	return m.line
}
