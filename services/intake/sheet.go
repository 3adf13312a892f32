package intake

import (
	"bytes"
	"fmt"
	"io"
	"strconv"
	"unicode/utf8"

	"seamwright/services/fault"
)

// maxFaults is how many mistakes of one file are spelled out; the rest is
// counted.
const maxFaults = 20

// sheet is one file being read and what was found wrong with it.
type sheet struct {
	name   string
	faults []*fault.Error
	more   int
}

// bad notes a mistake. Line 0 means the file as a whole, an empty field the
// line as a whole.
func (s *sheet) bad(line int, field, value, limit string) {
	if len(s.faults) == maxFaults {
		s.more++
		return
	}
	at := s.name
	if line > 0 {
		at += ":" + strconv.Itoa(line)
	}
	if field != "" {
		at += " " + place(field)
	}
	s.faults = append(s.faults, fault.Bad(at, show(value), limit))
}

// err is nil for a clean file, else one fault with everything that was
// wrong.
func (s *sheet) err() error {
	if len(s.faults) == 0 {
		return nil
	}
	e := s.faults[0].Join(s.faults[1:]...)
	if s.more > 0 {
		e.Message += fmt.Sprintf("; and %d more", s.more)
	}
	e.Hint = "correct the file and read it again, nothing of it was kept"
	return e
}

// place makes the name of a field fit for one line: keys that a file chose
// stand in it.
func place(field string) string { return fault.Show(field, 200) }

// show makes a value fit for one line of text.
func show(value string) string {
	if value == "" {
		return "(empty)"
	}
	return fault.Show(value, 60)
}

// tooLong says what helps against a file that is too long: a table can be
// told in parts, one thing's own file cannot.
func tooLong(most int) string {
	if most == MaxYAMLBytes {
		return "such a file has a few kilobytes, see that it is the one that was meant"
	}
	return "tell it in parts, or see that it is the file that was meant"
}

// slurp reads a whole file within its limit, drops a byte order mark and
// sees that it is UTF-8. A nil slice means that a mistake was noted; the
// error is set only when reading itself failed.
func (s *sheet) slurp(r io.Reader, most int) ([]byte, error) {
	data, err := io.ReadAll(io.LimitReader(r, int64(most)+1))
	if err != nil {
		return nil, fault.Wrap(err, fault.Invalid, "unreadable-file", "see that "+s.name+" can be read")
	}
	if len(data) > most {
		s.bad(0, "", "more than "+strconv.Itoa(most)+" bytes", "at most "+strconv.Itoa(most)+" bytes; "+tooLong(most))
		return nil, nil
	}
	data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
	if !utf8.Valid(data) {
		line := 1
		for rest := data; len(rest) > 0; {
			c, n := utf8.DecodeRune(rest)
			if c == utf8.RuneError && n == 1 {
				break
			}
			if c == '\n' {
				line++
			}
			rest = rest[n:]
		}
		s.bad(line, "", "bytes that are not UTF-8", "text in UTF-8; save the file as UTF-8")
		return nil, nil
	}
	if len(bytes.TrimSpace(data)) == 0 {
		s.bad(0, "", "", "a file with content")
		return nil, nil
	}
	return data, nil
}
