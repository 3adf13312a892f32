package intake

import (
	"strconv"
	"strings"
	"time"
)

// object is a JSON object being read, with the name that it has in errors.
type object struct {
	s    *sheet
	n    *jsonNode
	path string // "loads[3]."
}

// object reads a node that has to be an object with no other keys than those
// given; nil when it is not. Without keys given any are taken.
func (s *sheet) object(n *jsonNode, path string, keys ...string) *object {
	if n.kind != jsonObject {
		s.bad(n.line, path, n.shown(), `names and values in curly brackets, like {"id": "X1"}`)
		return nil
	}
	o := &object{s, n, path}
	if path != "" {
		o.path += "."
	}
	for _, name := range n.names {
		known := len(keys) == 0
		for _, k := range keys {
			known = known || k == name
		}
		if !known {
			s.bad(n.keys[name].line, o.path+name, "unknown key", "one of "+strings.Join(keys, ", "))
		}
	}
	return o
}

// get gives a key's node; a required one that is absent is noted.
func (o *object) get(key, limit string, need bool) *jsonNode {
	v := o.n.keys[key]
	if v == nil && need {
		o.s.bad(o.n.line, o.path+key, "missing", "give "+limit)
	}
	return v
}

// text reads one line of text.
func (o *object) text(key string, need bool) string {
	const limit = "one line of 1 to 60 characters"
	v := o.get(key, limit, need)
	if v == nil {
		return ""
	}
	return o.s.textOf(v, o.path+key, limit)
}

func (s *sheet) textOf(v *jsonNode, path, limit string) string {
	if v.kind != jsonString || v.text == "" || strings.TrimSpace(v.text) != v.text || !line(v.text, 60) {
		is := v.shown()
		if v.kind == jsonString && strings.TrimSpace(v.text) != v.text {
			is, limit = strconv.Quote(v.text), limit+", with no blank at either end"
		}
		s.bad(v.line, path, is, limit)
		return ""
	}
	return v.text
}

// number reads a number within a span.
func (o *object) number(key string, p span, need bool, absent float64) float64 {
	v := o.get(key, p.String(), need)
	if v == nil {
		return absent
	}
	return o.s.numberOf(v, o.path+key, p)
}

func (s *sheet) numberOf(v *jsonNode, path string, p span) float64 {
	x, ok := number(v.text, p)
	if v.kind == jsonString { // in quotes, for it may well look like a number
		s.bad(v.line, path, strconv.Quote(v.shown()), p.String()+", without quotes")
		return 0
	}
	if v.kind != jsonNumber || !ok {
		s.bad(v.line, path, v.shown(), p.String())
		return 0
	}
	return x
}

// minutes reads minutes, to the nanosecond.
func (o *object) minutes(key string, p span, need bool) time.Duration {
	return ofMinutes(o.number(key, p, need, 0))
}

func ofMinutes(x float64) time.Duration {
	whole := time.Duration(x)
	return whole*time.Minute + time.Duration((x-float64(whole))*float64(time.Minute)+0.5)
}

// moment reads a time; the zero time when it is absent.
func (o *object) moment(key string, need bool) time.Time {
	v := o.get(key, momentLimit, need)
	if v == nil {
		return time.Time{}
	}
	return o.s.momentOf(v, o.path+key)
}

func (s *sheet) momentOf(v *jsonNode, path string) time.Time {
	t, ok := moment(v.text)
	if v.kind != jsonString || !ok {
		s.bad(v.line, path, v.shown(), momentLimit)
		return time.Time{}
	}
	return t
}

// list gives the items of a list; none when it is absent.
func (o *object) list(key string, need bool) []*jsonNode {
	limit := `several in square brackets, like ["x", "y"]`
	if o.path == "" { // what a file lists has values of its own
		limit = `several in square brackets, like [{"id": "X1"}, {"id": "X2"}]`
	}
	v := o.get(key, limit, need)
	if v == nil {
		return nil
	}
	if v.kind != jsonList {
		o.s.bad(v.line, o.path+key, v.shown(), limit)
		return nil
	}
	return v.items
}

// texts reads a list of lines of text.
func (o *object) texts(key string, need bool) []string {
	var out []string
	for i, v := range o.list(key, need) {
		out = append(out, o.s.textOf(v, o.path+key+"["+strconv.Itoa(i)+"]", "one line of 1 to 60 characters"))
	}
	return out
}
