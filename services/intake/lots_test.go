package intake

import (
	"bytes"
	"strconv"
	"strings"
	"testing"
	"time"
)

const lotsText = "lot,product,expires,cartridges,received_ml,cost,currency\n" +
	"L-2601,mb-grey,2027-03-31,12,,31.50,USD\nL-2602,hb-white,2027-01-15T12:00:00+01:00,,1000,,\nL-2603,sl-grey,,4,,,\n"

func TestALotsFile(t *testing.T) {
	got, err := ReadLots("lots.csv", strings.NewReader(lotsText))
	if err != nil || len(got) != 3 {
		t.Fatalf("%v, %v", got, err)
	}
	want := []Lot{
		{ID: "L-2601", ProductID: "mb-grey", Expires: time.Date(2027, 3, 31, 23, 59, 59, 0, time.UTC), Cartridges: 12, Cost: "31.50", Currency: "USD", Line: 2},
		{ID: "L-2602", ProductID: "hb-white", Expires: time.Date(2027, 1, 15, 11, 0, 0, 0, time.UTC), ReceivedML: 1000, Line: 3},
		{ID: "L-2603", ProductID: "sl-grey", Cartridges: 4, Line: 4},
	}
	for i, w := range want {
		if got[i] != w {
			t.Errorf("%+v\nwant %+v", got[i], w)
		}
	}
}

func TestLotsThatAreRefused(t *testing.T) {
	const head = "lot,product,expires,cartridges,received_ml,cost,currency\n"
	for row, want := range map[string]string{
		"L 1,mb-grey,,1,,,":                  "l.csv:2 lot: L 1: 1 to 48 letters",
		"L1,,,1,,,":                          "l.csv:2 product: ",
		"L1,p,soon,1,,,":                     "l.csv:2 expires: soon: a day like 2027-03-31",
		"L1,p,2027-02-30,1,,,":               "l.csv:2 expires: 2027-02-30: a day like",
		"L1,p,1969-12-31,1,,,":               "l.csv:2 expires: 1969-12-31: ",
		"L1,p,,0,,,":                         "l.csv:2 cartridges: 0: a whole number from 1 to 100000 cartridges",
		"L1,p,,1.5,,,":                       "l.csv:2 cartridges: 1.5: ",
		"L1,p,,-2,,,":                        "l.csv:2 cartridges: -2: ",
		"L1,p,,NaN,,,":                       "l.csv:2 cartridges: NaN: ",
		"L1,p,,,Inf,,":                       "l.csv:2 received_ml: Inf: ",
		"L1,p,,,0,,":                         "l.csv:2 received_ml: 0: a number above 0",
		"L1,p,,,,,":                          "l.csv:2 cartridges: (empty): how many came in",
		"L1,p,,2,400,,":                      "l.csv:2 received_ml: 400: empty where cartridges are given",
		"L1,p,,1,,1e3,USD":                   "l.csv:2 cost: 1e3: what one cartridge cost",
		"L1,p,,1,,-1,USD":                    "l.csv:2 cost: -1: ",
		"L1,p,,1,,31.50,":                    "l.csv:2 currency: (empty): three capital letters",
		"L1,p,,1,,31.50,usd":                 "l.csv:2 currency: usd: ",
		"L1,p,,1,,,USD":                      "l.csv:2 currency: USD: ",
		"L1,p,,1,,,\nL1,p,,1,,,":             "l.csv:3 lot: L1: each lot once, it stands at line 2 too",
		strings.Repeat("é", 50) + ",p,,1,,,": "l.csv:2 lot: ",
	} {
		_, err := ReadLots("l.csv", strings.NewReader(head+row+"\n"))
		if err == nil || !strings.HasPrefix(err.Error(), want) {
			t.Errorf("%s: %v\nwant %s", row, err, want)
		}
	}
	for text, want := range map[string]string{
		"lot,cartridges\nL1,1\n":                "l.csv:1 product: missing column",
		"lot,product,cartridges,lot\nL1,p,1,\n": "l.csv:1 lot: repeated column",
		"lot,product,boxes\nL1,p,1\n":           "l.csv:1 boxes: unknown column",
		"":                                      "l.csv",
	} {
		if _, err := ReadLots("l.csv", strings.NewReader(text)); err == nil || !strings.HasPrefix(err.Error(), want) {
			t.Errorf("%q: %v", text, err)
		}
	}
}

func checkLots(t *testing.T, data []byte) {
	read := func(n string, b []byte) ([]Lot, error) {
		ls, err := ReadLots(n, bytes.NewReader(b))
		for i := range ls {
			ls[i].Line = 0
		}
		return ls, err
	}
	ls, err := read(fuzzed, data)
	if err != nil {
		refused(t, err)
		return
	}
	rows := [][]string{{"lot", "product", "expires", "cartridges", "received_ml", "cost", "currency"}}
	ids := map[string]bool{}
	for _, l := range ls {
		if ids[l.ID] || (l.Cartridges > 0) == (l.ReceivedML > 0) || (l.Cost == "") != (l.Currency == "") || l.Cartridges < 0 {
			t.Fatalf("accepted %+v", l)
		}
		ids[l.ID] = true
		row := []string{l.ID, l.ProductID, "", "", "", l.Cost, l.Currency}
		if !l.Expires.IsZero() {
			row[2] = l.Expires.Format(time.RFC3339Nano)
		}
		if l.Cartridges > 0 {
			row[3] = strconv.Itoa(l.Cartridges)
		} else {
			row[4] = num(l.ReceivedML)
		}
		rows = append(rows, row)
	}
	same(t, read, toCSV(t, rows), ls)
}
