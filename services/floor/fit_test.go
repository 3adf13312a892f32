package floor

import (
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/anypb"
	"google.golang.org/protobuf/types/known/timestamppb"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/fault"
)

// says is what becomes of a fact that is not recorded.
func (b *berth) says(body proto.Message) error {
	_, err := b.f.Decide(Command{Body: body, Stamp: &floorv1.Stamp{
		CommandId: "asked-only", Actor: "Ansa Vellacorn", Role: floorv1.Role_ROLE_FOREMAN, Terminal: "desk",
		Age: &floorv1.Age{Kind: floorv1.AgeKind_AGE_KIND_LIVE},
	}}, b.now.Add(time.Minute))
	return err
}

// fitted is a berth with a blue waterborne load, 1-A, told for b1, and a
// booth for primer only.
func fitted(t *testing.T) *berth {
	b := newBerth(t)
	grey := []*boothv1.BoothDefined_Setup{{From: "grey primer", To: "grey primer", Minutes: 5}}
	b.tell(&boothv1.BoothDefined{BoothId: "primes", ZoneId: "room", ProcessMin: 60, Setups: grey, Coats: []floorv1.Coat{
		floorv1.Coat_COAT_PRIMER_SURFACER, floorv1.Coat_COAT_UNDERCOAT,
	}})
	b.tell(&boothv1.BoothDefined{BoothId: "greys", ZoneId: "room", ProcessMin: 60, Setups: grey})
	b.tell(&jobsv1.JobOpened{Ro: "1", Vehicle: "van", Coats: []floorv1.Coat{floorv1.Coat_COAT_WATERBORNE}})
	return b
}

// A load is not put by hand into a booth that cannot take it.
func TestALoadIsPutWhereItIsTaken(t *testing.T) {
	const (
		free = boothv1.Keep_KEEP_UNSPECIFIED
		keep = boothv1.Keep_KEEP_BOOTH
	)
	at := timestamppb.New(plannedDay.Add(5 * time.Hour))
	primer := floorv1.Coat_COAT_PRIMER_SURFACER
	for name, c := range map[string]struct {
		load *boothv1.LoadPlanned
		want string // of the refusal, empty: it is taken
	}{
		"another coat":              {&boothv1.LoadPlanned{BoothId: "primes", Colour: "blue", Keep: keep}, "booth_id: primes: takes primer-surfacer, undercoat, and load 1-A begins with waterborne; place it"},
		"another coat, a start":     {&boothv1.LoadPlanned{BoothId: "primes", Colour: "blue", Start: at}, "takes primer-surfacer, undercoat"},
		"another colour":            {&boothv1.LoadPlanned{BoothId: "primes", Colour: "blue", Coat: primer, Keep: keep}, "booth_id: primes: knows how to change to grey primer, and load 1-A is blue; place it"},
		"a colour, any coat":        {&boothv1.LoadPlanned{BoothId: "greys", Colour: "blue", Keep: keep}, "knows how to change to grey primer"},
		"what it takes":             {&boothv1.LoadPlanned{BoothId: "primes", Colour: "grey primer", Coat: primer, Keep: keep}, ""},
		"a booth that says nothing": {&boothv1.LoadPlanned{BoothId: "b2", Colour: "blue", Keep: keep}, ""},
		"nothing kept":              {&boothv1.LoadPlanned{BoothId: "primes", Colour: "blue", Keep: free}, ""},
		"named beside its own":      {&boothv1.LoadPlanned{BoothId: "primes", Colour: "blue", Keep: keep, AlsoBoothIds: []string{"primes"}}, ""},
	} {
		t.Run(name, func(t *testing.T) {
			c.load.LoadId, c.load.Ro = "1-A", "1"
			err := fitted(t).says(c.load)
			if c.want == "" && err == nil {
				return
			}
			if fault.KindOf(err) != fault.Invalid || c.want == "" || !strings.Contains(err.Error(), c.want) {
				t.Errorf("%v, want %q", err, c.want)
			}
		})
	}
}

// Where a load was told for first it may be put whatever the booth says; where
// it was put only by hand it may not, and so in a correction.
func TestALoadIsPutWhereItWasToldFor(t *testing.T) {
	b := fitted(t)
	first := &boothv1.LoadPlanned{LoadId: "1-B", BoothId: "primes", Ro: "1", Colour: "blue", Keep: boothv1.Keep_KEEP_BOOTH}
	seq := b.tell(first)
	b.tell(first)
	greys := proto.CloneOf(first)
	greys.BoothId = "greys"
	if err := b.says(greys); fault.KindOf(err) != fault.Invalid {
		t.Errorf("another one: %v", err)
	}
	correct := func(seq uint64) error {
		body, err := anypb.New(greys)
		if err != nil {
			t.Fatal(err)
		}
		return b.says(&jobsv1.FactCorrected{Sequence: seq, Body: body})
	}
	if err := correct(seq); err != nil {
		t.Errorf("told first and corrected: %v", err)
	}
	if err := correct(b.f.Seq()); fault.KindOf(err) != fault.Invalid {
		t.Errorf("put and corrected: %v", err)
	}
}

// A load that is being sprayed is where it is.
func TestALoadThatIsSprayedIsNotPlaced(t *testing.T) {
	b := fitted(t)
	b.tell(&boothv1.SprayStarted{BoothId: "b1", LoadId: "1-A"})
	since := b.now.Format("15:04")
	put := &boothv1.LoadPlanned{LoadId: "1-A", BoothId: "b1", Ro: "1", Colour: "blue", Keep: boothv1.Keep_KEEP_BOOTH}
	if err := b.says(put); fault.KindOf(err) != fault.Refused || !strings.Contains(err.Error(), "1-A has been in b1 since "+since+"; it cannot be placed") {
		t.Errorf("in the booth: %v", err)
	}
	again := proto.CloneOf(put)
	again.Keep = boothv1.Keep_KEEP_UNSPECIFIED
	if err := b.says(again); err != nil {
		t.Errorf("told again without a place: %v", err)
	}
	b.tell(&boothv1.LoadFinished{BoothId: "b1", LoadId: "1-A"})
	if err := b.says(put); fault.KindOf(err) != fault.Refused || !strings.Contains(err.Error(), "1-A was sprayed at "+since) {
		t.Errorf("out of it: %v", err)
	}
}
