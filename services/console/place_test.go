package console_test

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	"seamwright/services/console"
	"seamwright/services/fault"
)

// A load goes by hand only where it is taken, and freed it is told for the
// booth that it was told for before somebody put it elsewhere.
func TestPlaceAndFree(t *testing.T) {
	a, c, at := plannedShop(t)
	place := func(q console.Place) (got struct{ Booth, Keep string }, err error) {
		t.Helper()
		q.At, q.Name = at, "Ansa Vellacorn"
		var out bytes.Buffer
		if err := q.Run(t.Context(), console.Out{W: &out, JSON: true}); err != nil {
			return got, err
		}
		if err := json.Unmarshal(out.Bytes(), &got); err != nil {
			t.Fatalf("%v: %s", err, out.String())
		}
		return got, nil
	}
	if _, err := place(console.Place{Load: "2207-A", Booth: "prep-1"}); fault.KindOf(err) != fault.Invalid || !strings.Contains(err.Error(), "prep-1: takes primer-surfacer, undercoat") {
		t.Errorf("blue into prep-1: %v", err)
	}
	if _, err := place(console.Place{Load: "2214-P", Booth: "booth-1"}); fault.KindOf(err) != fault.Invalid || !strings.Contains(err.Error(), "booth-1: knows how to change to blue") {
		t.Errorf("grey primer into booth-1: %v", err)
	}
	more := t.TempDir()
	if err := os.WriteFile(filepath.Join(more, "booth-2.yaml"), []byte("id: booth-2\nzone: booth-1\nfirst_coat_min: 20\nprocess_min: 75\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	run(t, console.Import{At: at, Booths: more})
	for _, q := range []struct {
		console.Place
		booth, keep string
	}{
		{console.Place{Load: "2207-A", Booth: "booth-2"}, "booth-2", "booth"},
		{console.Place{Load: "2207-A", Start: "15:00"}, "booth-2", "start"},
		{console.Place{Load: "2207-A", Free: true}, "booth-1", "nothing"},
	} {
		got, err := place(q.Place)
		if err != nil || got.Booth != q.booth || got.Keep != q.keep {
			t.Errorf("%+v: %+v, %v", q.Place, got, err)
		}
	}
	spray(t, at.Address, "2207-A", "booth-1")
	if err := a.AdvanceTo(t.Context(), c.Now().Add(2*time.Minute)); err != nil {
		t.Fatal(err)
	}
	const there = "2207-A has been in booth-1 since 08:00; it cannot be placed"
	for _, q := range []console.Place{{Load: "2207-A", Booth: "booth-2"}, {Load: "2207-A", Start: "15:00"}, {Load: "2207-A", Free: true}} {
		if _, err := place(q); fault.KindOf(err) != fault.Refused || !strings.Contains(err.Error(), there) {
			t.Errorf("%+v: %v, want %q", q, err, there)
		}
	}
}

// spray tells that the spraying of a load starts now.
func spray(t *testing.T, address, load, booth string) {
	t.Helper()
	c, err := grpc.NewClient(address, grpc.WithTransportCredentials(insecure.NewCredentials()))
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	_, err = boothv1.NewBoothServiceClient(c).Record(t.Context(), &boothv1.RecordRequest{
		Stamp: &floorv1.Stamp{
			CommandId: "spray-" + load, Actor: "Ansa Vellacorn", Role: floorv1.Role_ROLE_PAINTER, Terminal: "booth-screen",
			Age: &floorv1.Age{Kind: floorv1.AgeKind_AGE_KIND_LIVE},
		},
		Fact: &boothv1.RecordRequest_SprayStarted{SprayStarted: &boothv1.SprayStarted{BoothId: booth, LoadId: load}},
	})
	if err != nil {
		t.Fatal(err)
	}
}

// Somebody says so: what is told without a name is not told.
func TestPlaceWantsAName(t *testing.T) {
	a, at, _ := shop(t)
	before := a.Desk().Writer.Seq()
	err := console.Place{At: at, Load: "2207-A", Start: "15:00", Name: " "}.Run(t.Context(), console.Out{W: &bytes.Buffer{}})
	if fault.KindOf(err) != fault.Invalid || !strings.HasPrefix(err.Error(), "--name: missing: ") || a.Desk().Writer.Seq() != before {
		t.Errorf("%v", err)
	}
}
