package feed_test

import (
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/app"
	"seamwright/services/fault"
	"seamwright/services/floor"
	"seamwright/services/screens"
)

// TestStale: when nobody follows the journal any more, every picture says so
// and how old it is, and no gate is anything but unknown.
func TestStale(t *testing.T) {
	s := open(t, app.Options{}, true)
	s.bring(floorv1.Coat_COAT_SOLVENTBORNE)
	if b := s.board(); !b.Live || b.Trouble != "" {
		t.Fatalf("a running shop's picture is %+v", b.Picture)
	}
	must(t, s.app.Stop())
	must(t, s.time.Advance(42*time.Second))
	b := s.board()
	if b.Live || b.Age != 42*time.Second || b.Trouble == "" {
		t.Errorf("after the end the picture is %+v, want 42 s old", b.Picture)
	}
	for _, g := range b.Gates {
		if g.State != screens.GateUnknown {
			t.Errorf("gate %s says %q", g.Booth, g.State)
		}
	}
	booth := s.booth("booth-1")
	if booth.Load == nil || booth.Load.ID != load || len(booth.Seams) != 1 || booth.Seams[0].State != screens.SeamUnknown {
		t.Errorf("without a gate the booth shows %+v with %+v", booth.Load, booth.Seams)
	}
	if booth.Request != nil && booth.Request.Ready || booth.Start != nil && booth.Start.Ready {
		t.Error("without a gate a permit or spraying is offered")
	}
	if p := s.bay(bay1, "2207", "rd-l").Picture; p.Live {
		t.Error("the tablet takes it for live")
	}
}

// TestSilentProbe: a probe that is not heard holds the booth by its name, and
// the wall says that the air is old.
func TestSilentProbe(t *testing.T) {
	s := open(t, app.Options{}, false)
	s.bring(floorv1.Coat_COAT_SOLVENTBORNE)
	s.until(at(8, 0))
	s.mute["booth-1"] = true
	s.wait(20 * time.Minute)
	b := s.booth("booth-1")
	if len(b.Reasons) == 0 || !strings.Contains(b.Reasons[0].Text, "The probe of booth 1 was last read at 08:00") || !b.Climate.Stale {
		t.Errorf("reasons %+v, climate %+v", b.Reasons, b.Climate)
	}
}

// TestSilentProbeOfThePlaceLeft: a car that has left a bay whose probe is silent
// waits for as long as it settles, and the booth says until when.
func TestSilentProbeOfThePlaceLeft(t *testing.T) {
	s := open(t, app.Options{}, false)
	s.bring(floorv1.Coat_COAT_SOLVENTBORNE)
	s.lay()
	s.mute["bay-1"] = true
	s.wait(20 * time.Minute)
	s.told(&jobsv1.CarMoved{Ro: ro, ZoneId: "bay-2"})
	var said string
	for _, r := range s.booth("booth-1").Reasons {
		if strings.HasPrefix(r.Text, "The probe of bay 1 was last read at") {
			said = r.Text
		}
	}
	settled := s.time.Now().Add(30*time.Minute + 59*time.Second) // as the bays of this shop do; the page rounds up
	if want := "What came from there, or may have, settles until " + settled.Format("15:04") + ": its air counts until then."; !strings.Contains(said, want) {
		t.Errorf("the booth says %q, not %q", said, want)
	}
}

// TestLanes: the loads of a booth never overlap, and a seam laid at its
// latest moment is open when its load's place comes.
func TestLanes(t *testing.T) {
	s := open(t, app.Options{}, true)
	s.until(at(9, 0))
	b := s.board()
	if len(b.Lanes) != 2 || len(b.Jobs) != 5 {
		t.Fatalf("%d lanes, %d jobs", len(b.Lanes), len(b.Jobs))
	}
	for _, l := range b.Lanes {
		var end time.Time
		for _, k := range l.Blocks {
			if k.Kind == screens.BlockClosed {
				continue
			}
			if k.From.Before(end) || !k.To.After(k.From) {
				t.Errorf("%s: %s runs %s to %s, the one before ends %s", l.Booth, k.Label, k.From, k.To, end)
			}
			end = k.To
		}
	}
	for i := 1; i < len(b.Jobs); i++ {
		if b.Jobs[i].Promised.Before(b.Jobs[i-1].Promised) {
			t.Error("the jobs are not in the order of their promises")
		}
	}
	for _, j := range b.Jobs {
		for _, r := range j.Seams {
			if r.LayBy != nil && r.LayBy.At.Before(s.time.Now()) {
				t.Errorf("%s was to be laid by %s already, although its load's place is put so that it can be", r.ID, r.LayBy.At)
			}
		}
	}
}

// TestChanges: the channel tells the newest sequence, and ends with its
// context.
func TestChanges(t *testing.T) {
	s := open(t, app.Options{}, false)
	ch := s.src.Changes(t.Context())
	s.bring(floorv1.Coat_COAT_SOLVENTBORNE)
	var want uint64
	s.look(func(f *floor.Floor) { want = f.Seq() })
	for got := uint64(0); got < want; {
		var ok bool
		if got, ok = <-ch; !ok {
			t.Fatal("the channel ended before its context")
		}
	}
}

// TestNamesThatAreNotKnown answer as not found.
func TestNamesThatAreNotKnown(t *testing.T) {
	s := open(t, app.Options{}, false)
	_, err := s.src.Booth(t.Context(), "booth-9")
	errs := []error{err}
	for _, b := range [][3]string{{"bay-9-tablet", "", ""}, {bay1, "9999", ""}, {bay1, "2207", "no-such"}} {
		_, err := s.src.Bay(t.Context(), b[0], b[1], b[2])
		errs = append(errs, err)
	}
	for _, err := range errs {
		if fault.KindOf(err) != fault.NotFound {
			t.Errorf("%v, want not found", err)
		}
	}
	_, err = s.src.Post(t.Context(), screens.Action{Kind: screens.DoScuff, RO: "2207", Seam: "rd-l", Actor: "Nobody Known", Terminal: bay1, CommandID: s.uuid()})
	if fault.KindOf(err) != fault.Denied {
		t.Errorf("a stranger's press: %v", err)
	}
}

// TestTerminalsInWords: who picks a terminal reads places, those of the bays
// first.
func TestTerminalsInWords(t *testing.T) {
	s := open(t, app.Options{}, false)
	got, err := s.src.Terminals(t.Context())
	must(t, err)
	want := []screens.Named{
		{ID: "bay-1-tablet", Name: "Bay 1"},
		{ID: "bay-2-tablet", Name: "Bay 2"},
		{ID: "bay-3-tablet", Name: "Bay 3"},
		{ID: "booth-screen", Name: "Booth 1"},
		{ID: "desk", Name: "Desk"},
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("terminals (-want +got):\n%s", diff)
	}
	booths, err := s.src.Booths(t.Context())
	must(t, err)
	if diff := cmp.Diff([]screens.Named{{ID: "booth-1", Name: "Booth 1"}, {ID: "prep-1", Name: "Prep 1"}}, booths); diff != "" {
		t.Errorf("booths (-want +got):\n%s", diff)
	}
}
