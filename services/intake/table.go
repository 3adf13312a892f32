package intake

import (
	"bytes"
	"encoding/csv"
	"errors"
	"io"
	"slices"
	"strconv"
	"strings"
)

// table is a CSV file with a header, read row by row.
type table struct {
	s    *sheet
	r    *csv.Reader
	cols map[string]int
	row  []string
	line int
	rows int
	most int
}

// table opens a CSV file. Columns are found by name: unknown and repeated
// ones are mistakes, the needed ones must be there. Nil means that a
// mistake was noted.
func (s *sheet) table(data []byte, most int, needed, optional []string) *table {
	t := &table{s: s, r: csv.NewReader(bytes.NewReader(data)), cols: map[string]int{}, most: most}
	t.r.ReuseRecord = true
	head, err := t.r.Read()
	if err != nil {
		t.badCSV(err)
		return nil
	}
	known := append(slices.Clone(needed), optional...)
	var strange, lacking []string
	for i, c := range head {
		c = strings.TrimSpace(c)
		if _, twice := t.cols[c]; twice {
			s.bad(1, show(c), "repeated column", "each column once; take one out")
		} else if !slices.Contains(known, c) {
			strange = append(strange, show(c))
		}
		t.cols[c] = i
	}
	for _, c := range needed {
		if _, ok := t.cols[c]; !ok {
			lacking = append(lacking, c)
		}
	}
	s.badHead(head, strange, lacking, known)
	if len(s.faults) > 0 {
		return nil
	}
	return t
}

// badHead notes once which columns are unknown and once which are missing. A
// file that lacks more than it could lack by a slip is another kind of file:
// only what is missing is said then.
func (s *sheet) badHead(head, strange, lacking, known []string) {
	const slips = 2
	if len(lacking) > slips && len(strange) > slips {
		const most = 8
		has := strings.Join(head[:min(len(head), most)], ", ")
		s.bad(1, "", "no column "+strings.Join(lacking, ", "), "these are required, and the header has "+show(has)+"; see that it is the file that was meant")
		return
	}
	if len(strange) > 0 {
		s.bad(1, few(strange), "unknown "+columns(strange), "columns are "+strings.Join(known, ", "))
	}
	if len(lacking) > 0 {
		s.bad(1, few(lacking), "missing "+columns(lacking), "required; add to the header")
	}
}

func columns(names []string) string {
	if len(names) == 1 {
		return "column"
	}
	return "columns"
}

// few lists names, not so many that nobody reads them.
func few(names []string) string {
	const most = 8
	if n := len(names) - most; n > 0 {
		return strings.Join(names[:most], ", ") + " and " + strconv.Itoa(n) + " more"
	}
	return strings.Join(names, ", ")
}

func (t *table) badCSV(err error) {
	var p *csv.ParseError
	if errors.As(err, &p) {
		t.s.bad(p.Line, "", p.Err.Error(), "well-formed CSV; quote a cell that holds a comma, a quote or a line end, and double its quotes")
		return
	}
	t.s.bad(0, "", err.Error(), "well-formed CSV")
}

// next reads the next row and reports whether there was one. A row with a
// wrong number of cells is a mistake and skipped; other ill-formed text
// ends the reading.
func (t *table) next() bool {
	for {
		row, err := t.r.Read()
		if errors.Is(err, io.EOF) {
			return false
		}
		if errors.Is(err, csv.ErrFieldCount) {
			at, _ := t.r.FieldPos(0)
			t.s.bad(at, "", strconv.Itoa(len(row))+" cells", strconv.Itoa(t.r.FieldsPerRecord)+" cells as in the header")
			continue
		}
		if err != nil {
			t.badCSV(err)
			return false
		}
		t.row = row
		t.line, _ = t.r.FieldPos(0)
		if t.rows++; t.rows > t.most {
			t.s.bad(t.line, "", "more than "+strconv.Itoa(t.most)+" rows", "at most "+strconv.Itoa(t.most)+" rows; split the file")
			return false
		}
		return true
	}
}

// cell gives a cell's text without spaces around it, empty when its column
// is absent.
func (t *table) cell(col string) string {
	i, ok := t.cols[col]
	if !ok {
		return ""
	}
	return strings.TrimSpace(t.row[i])
}

// bad notes a mistake about a cell.
func (t *table) bad(col, limit string) { t.s.bad(t.line, col, t.cell(col), limit) }

// number reads a required number.
func (t *table) number(col string, p span) float64 {
	x, ok := number(t.cell(col), p)
	if !ok {
		t.bad(col, p.String())
	}
	return x
}

// maybe reads a number that may be empty: nil then.
func (t *table) maybe(col string, p span) *float64 {
	if t.cell(col) == "" {
		return nil
	}
	x, ok := number(t.cell(col), p)
	if !ok {
		t.bad(col, p.String()+", or empty")
		return nil
	}
	return &x
}

// text reads a line of at most n characters that may be empty.
func (t *table) text(col string, n int) string {
	c := t.cell(col)
	if !line(c, n) {
		t.bad(col, "one line of at most "+strconv.Itoa(n)+" characters")
	}
	return c
}

// needText reads a line that may not be empty.
func (t *table) needText(col string, n int) string {
	c := t.text(col, n)
	if c == "" {
		t.bad(col, "required: 1 to "+strconv.Itoa(n)+" characters")
	}
	return c
}

// id reads a required identifier.
func (t *table) id(col string) string {
	c := t.cell(col)
	if !identifier.MatchString(c) {
		t.bad(col, identifierLimit)
	}
	return c
}

// cellWord reads a word of a vocabulary; an empty cell is the zero word
// unless needed.
func cellWord[W ~string](t *table, col string, all []W, needed bool) W {
	c := t.cell(col)
	if c == "" && !needed {
		return ""
	}
	for _, a := range all {
		if string(a) == c {
			return a
		}
	}
	limit := oneOf(all)
	if !needed {
		limit += ", or empty"
	}
	t.bad(col, limit)
	return ""
}

// split reads the parts of a cell that are separated by semicolons.
func (t *table) split(col string) []string {
	c := t.cell(col)
	if c == "" {
		return nil
	}
	parts := strings.Split(c, ";")
	for i := range parts {
		parts[i] = strings.TrimSpace(parts[i])
	}
	return parts
}
