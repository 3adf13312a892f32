package spec

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"
)

// The table is that of Sharma, Wu and Dalal (2005); each row names its
// source.
func TestDifferenceTable(t *testing.T) {
	f, err := os.Open("../../../testdata/checks/03_ciede2000.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range rows[1:] {
		var v [8]float64
		for i := range v {
			if v[i], err = strconv.ParseFloat(row[i+1], 64); err != nil {
				t.Fatal(err)
			}
		}
		p, q := Lab{v[0], v[1], v[2]}, Lab{v[3], v[4], v[5]}
		for _, got := range []float64{difference(p, q), difference(q, p)} {
			if math.Abs(got-v[6]) > v[7] {
				t.Errorf("%s: %.5f, want %.4f within %g", row[0], got, v[6], v[7])
			}
		}
	}
	if len(rows) < 35 {
		t.Errorf("only %d rows", len(rows))
	}
}
