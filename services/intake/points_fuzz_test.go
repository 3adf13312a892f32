package intake

import (
	"bytes"
	"strings"
	"testing"

	"seamwright/services/fault"
)

func TestReadPointsNamesTheCell(t *testing.T) {
	for text, want := range map[string]string{
		"":                                      "p.csv: (empty)",
		"stage,temp_c,minutes,stage\n":          "p.csv:1 stage: repeated column",
		"stage,temp_c,minutes\na,20,\n":         "p.csv:2 minutes: (empty): ",
		"stage,temp_c,minutes\na,20,4\nb,\"\n":  "p.csv:",
		"stage,temp_c,minutes\na,20,\xff4\n":    "p.csv:2: bytes that are not UTF-8",
		"stage,temp_c,minutes\na,20,0x10\n":     "p.csv:2 minutes: 0x10: ",
		"stage,temp_c,minutes\na,-100.1,0.01\n": "p.csv:2 temp_c: -100.1: a number from -100 to 1000 °C",
	} {
		got, err := ReadPoints("p.csv", strings.NewReader(text))
		if err == nil || got != nil || fault.KindOf(err) != fault.Invalid || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, %v, want %s", text, got, err, want)
		}
	}
	if got, err := ReadPoints("p.csv", strings.NewReader("stage,temp_c,minutes\n")); err != nil || len(got) != 0 {
		t.Errorf("a header alone: %v %v", got, err)
	}
}

func FuzzReadPoints(f *testing.F) {
	f.Add([]byte("stage,temp_c,minutes\nhandling,15,70\nhandling,30,24\n"))
	f.Add([]byte("stage,temp_c,minutes\n\"a\nb\",1e9,-0\n"))
	f.Fuzz(func(t *testing.T, data []byte) { checkPoints(t, data) })
}

func checkPoints(t *testing.T, data []byte) {
	read := func(n string, b []byte) ([]Point, error) { return ReadPoints(n, bytes.NewReader(b)) }
	points, err := read(fuzzed, data)
	if err != nil {
		if points != nil {
			t.Fatalf("%v with %v", err, points)
		}
		refused(t, err)
		return
	}
	rows := [][]string{{"stage", "temp_c", "minutes"}}
	for _, p := range points {
		if p.Stage == "" || !line(string(p.Stage), 60) || !(p.TempC >= -100 && p.TempC <= 1000) || !(p.Minutes > 0 && p.Minutes <= 1e12) {
			t.Fatalf("accepted %+v", p)
		}
		rows = append(rows, []string{string(p.Stage), num(p.TempC), num(p.Minutes)})
	}
	same(t, read, toCSV(t, rows), points)
}
