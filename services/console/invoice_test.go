package console_test

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/known/durationpb"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/console"
)

// sealed is the demonstration shop with one bead laid, weighed and recalled.
func sealed(t *testing.T) console.At {
	t.Helper()
	a, at, clock := shop(t)
	q := demo(at)
	q.Readings = ""
	run(t, q)
	c, err := a.Dial()
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	p, n := pen{t: t, c: c}, 0
	for _, body := range []proto.Message{
		&materialsv1.LotReceived{LotId: "L-2601", ProductId: "mb-grey", Cartridges: 4},
		&jobsv1.JobOpened{Ro: "2300", Vehicle: "green van", Coats: []floorv1.Coat{floorv1.Coat_COAT_SOLVENTBORNE}},
		&jobsv1.SeamSurveyed{SeamId: "2300/hem", Panel: "door", Place: "door hem", Finish: floorv1.Finish_FINISH_COATED, Substrate: floorv1.Substrate_SUBSTRATE_E_COAT},
		&jobsv1.SeamPlanned{SeamId: "2300/hem", ProductId: "mb-grey", Profile: floorv1.Profile_PROFILE_ROUND, Technique: floorv1.Technique_TECHNIQUE_DIRECT_BEAD, VolumeMl: 13},
		&jobsv1.SurfacePrepped{SeamId: "2300/hem"},
		&materialsv1.CartridgeOpened{CartridgeId: "C1", LotId: "L-2601"},
		&materialsv1.CartridgeEqualised{CartridgeId: "C1", VolumeMl: proto.Float64(1)},
		&materialsv1.NozzleFitted{NozzleId: "N1", CartridgeId: "C1", HoldUpMl: proto.Float64(6.5)},
		&materialsv1.CartridgePurged{CartridgeId: "C1", VolumeMl: proto.Float64(5)},
		&jobsv1.BeadLaid{SeamId: "2300/hem", CartridgeId: "C1", NozzleId: "N1", Layer: floorv1.Layer_LAYER_BEAD, Lasted: durationpb.New(90 * time.Second)},
		&materialsv1.CartridgeWeighed{CartridgeId: "C1", RemainingMl: 192.5}, // 220 - 1 - 6.5 - 5 - 13 are 194.5 by the book
		&materialsv1.LotRecalled{LotId: "L-2601", Why: "lumps"},
	} {
		n++
		p.tell(n, body)
		if err := clock.Advance(2 * time.Minute); err != nil {
			t.Fatal(err)
		}
	}
	return at
}

// pen tells facts to the services that they belong to.
type pen struct {
	t *testing.T
	c grpc.ClientConnInterface
}

func (p pen) tell(n int, body proto.Message) {
	p.t.Helper()
	var req proto.Message = &materialsv1.RecordRequest{Stamp: stamp("invoice-told-"+string(rune('a'+n)), 0)}
	call := func() error {
		_, err := materialsv1.NewMaterialsServiceClient(p.c).Record(p.t.Context(), req.(*materialsv1.RecordRequest))
		return err
	}
	if strings.HasPrefix(string(body.ProtoReflect().Descriptor().FullName()), "seamwright.jobs") {
		req = &jobsv1.RecordRequest{Stamp: req.(*materialsv1.RecordRequest).Stamp}
		call = func() error {
			_, err := jobsv1.NewJobsServiceClient(p.c).Record(p.t.Context(), req.(*jobsv1.RecordRequest))
			return err
		}
	}
	m := req.ProtoReflect()
	fields := m.Descriptor().Oneofs().ByName("fact").Fields()
	for i := range fields.Len() {
		if f := fields.Get(i); f.Message() == body.ProtoReflect().Descriptor() {
			m.Set(f, protoreflect.ValueOfMessage(body.ProtoReflect()))
		}
	}
	if err := call(); err != nil {
		p.t.Fatalf("%T: %v", body, err)
	}
}

// Reckoned by hand: the bead took by the book 13 ml, by the scale 2 more. With
// what was equalised, purged and held by the nozzle that is 27.5 ml of a
// cartridge of 220 ml for 29.90 USD, an eighth: 3.7375 USD. Labour is 2 min each
// since the fact before for survey and prep and 1.5 min of laying, 5.5 min at
// 95 USD an hour: 8.708333... USD.
func TestAnInvoiceByCommand(t *testing.T) {
	q := console.Invoice{At: sealed(t), RO: "2300", Rate: "95.00", Currency: "USD"}
	var human, object, lines bytes.Buffer
	if err := q.Run(t.Context(), console.Out{W: &human}); err != nil {
		t.Fatal(err)
	}
	want := inReadme(t, "invoice 2300 --dir ./shop --rate 95.00 --currency USD")
	if diff := cmp.Diff(want, human.String()); diff != "" {
		t.Errorf("table (-want +got):\n%s", diff)
	}
	if err := q.Run(t.Context(), console.Out{W: &object, JSON: true}); err != nil {
		t.Fatal(err)
	}
	var a struct {
		RO    string
		Lines []struct {
			Quantity *float64
			Amount   *string
			Product  *string
		}
		Sums       []struct{ Currency, Material, Labour, Amount, Shown string }
		Incomplete *int
	}
	if err := json.Unmarshal(object.Bytes(), &a); err != nil || a.RO != "2300" || len(a.Lines) != 10 || *a.Lines[3].Quantity != 15 ||
		*a.Lines[3].Amount != "2.0386363636" || a.Lines[4].Product != nil || a.Lines[9].Amount != nil || a.Incomplete == nil || *a.Incomplete != 0 ||
		len(a.Sums) != 1 || a.Sums[0].Amount != "12.4458333333" || a.Sums[0].Shown != "12.45 USD" {
		t.Errorf("%s, %v", object.String(), err)
	}
	q.CSV = true
	if err := q.Run(t.Context(), console.Out{W: &lines}); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&lines).ReadAll()
	if err != nil || len(rows) != 12 {
		t.Fatalf("%v, %v", rows, err)
	}
	for i, want := range map[int]string{
		0:  "kind,seam,operation,product,quantity,unit,unit_price,amount,currency,billed,note",
		4:  "material,2300/hem,lay,mb-grey,15,ml,0.1359090909,2.0386363636,USD,true,13.0 ml as planned, 15.0 ml by a weight or a mark of the cartridge",
		7:  "labour,2300/hem,lay,,1.5,min,1.5833333333,2.375,USD,true,as told",
		10: "operation,2300/hem,lay,,1,each,,,,true,",
		11: "sum,,,,,,,12.4458333333,USD,,",
	} {
		if got := strings.Join(rows[i], ","); got != want {
			t.Errorf("row %d: %s\nwant   %s", i, got, want)
		}
	}
}

// inReadme is what the README says that a command of this shop answers.
func inReadme(t *testing.T, command string) string {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("..", "..", "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	_, after, found := strings.Cut(string(text), "\n$ seamwright "+command+"\n")
	said, _, ends := strings.Cut(after, "```")
	if !found || !ends {
		t.Fatalf("the README has no example of %q", command)
	}
	return said
}

func TestALotByCommand(t *testing.T) {
	at := sealed(t)
	var human, object bytes.Buffer
	q := console.Lot{At: at, Lot: "L-2601"}
	if err := q.Run(t.Context(), console.Out{W: &human}); err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(inReadme(t, "lot L-2601 --dir ./shop"), human.String()); diff != "" {
		t.Errorf("trace (-want +got):\n%s", diff)
	}
	if err := q.Run(t.Context(), console.Out{W: &object, JSON: true}); err != nil {
		t.Fatal(err)
	}
	var a struct {
		Lot, Product string
		Balance      *struct {
			LaidML float64 `json:"laid_ml"`
		}
		OnHold []string `json:"on_hold"`
		Jobs   []string
		Uses   []struct {
			Seam, Basis string
			VolumeML    float64 `json:"volume_ml"`
			Removed     *string
		}
	}
	if err := json.Unmarshal(object.Bytes(), &a); err != nil || a.Product != "mb-grey" || a.Balance == nil || a.Balance.LaidML != 15 || len(a.Uses) != 1 ||
		a.Uses[0].Basis != "corrected" || a.Uses[0].VolumeML != 15 || a.Uses[0].Removed != nil || len(a.OnHold) != 1 || a.Jobs[0] != "2300" {
		t.Errorf("%s, %v", object.String(), err)
	}
}

func TestInvoicesAndLotsThatAreRefused(t *testing.T) {
	_, at, _ := shop(t)
	for name, c := range map[string]struct {
		q interface {
			Run(context.Context, console.Out) error
		}
		status int
		line   string
	}{
		"no job named":     {console.Invoice{At: at}, console.ExitRefused, "RO: missing: "},
		"no such job":      {console.Invoice{At: at, RO: "9999"}, console.ExitRefused, `job "9999" is not known; `},
		"no number":        {console.Invoice{At: at, RO: "22 07"}, console.ExitRefused, "RO: 22 07: "},
		"rate alone":       {console.Invoice{At: at, RO: "1", Rate: "95"}, console.ExitRefused, "--currency: missing: "},
		"currency alone":   {console.Invoice{At: at, RO: "1", Currency: "USD"}, console.ExitRefused, "--rate: missing: "},
		"NaN":              {console.Invoice{At: at, RO: "1", Rate: "NaN", Currency: "USD"}, console.ExitRefused, "--rate: NaN: "},
		"infinite":         {console.Invoice{At: at, RO: "1", Rate: "Inf", Currency: "USD"}, console.ExitRefused, "--rate: Inf: "},
		"below nothing":    {console.Invoice{At: at, RO: "1", Rate: "-5", Currency: "USD"}, console.ExitRefused, "--rate: -5: "},
		"too dear":         {console.Invoice{At: at, RO: "1", Rate: "1000000000", Currency: "USD"}, console.ExitRefused, "--rate: 1000000000: "},
		"five places":      {console.Invoice{At: at, RO: "1", Rate: "1.00001", Currency: "USD"}, console.ExitRefused, "--rate: 1.00001: "},
		"a strange coin":   {console.Invoice{At: at, RO: "1", Rate: "95", Currency: "dollars"}, console.ExitRefused, "--currency: dollars: "},
		"no lot named":     {console.Lot{At: at}, console.ExitRefused, "LOT: missing: "},
		"no such lot":      {console.Lot{At: at, Lot: "L-9"}, console.ExitRefused, `lot "L-9" is not known; `},
		"no lot number":    {console.Lot{At: at, Lot: "L/9"}, console.ExitRefused, "LOT: L/9: "},
		"nobody there":     {console.Lot{At: console.At{Address: "127.0.0.1:1"}, Lot: "L-9"}, console.ExitTrouble, "no shop answers at 127.0.0.1:1; start one with: seamwright up"},
		"nobody there too": {console.Invoice{At: console.At{Address: "127.0.0.1:1"}, RO: "1"}, console.ExitTrouble, "no shop answers at 127.0.0.1:1; start one with: seamwright up"},
	} {
		err := c.q.Run(t.Context(), console.Out{W: io.Discard})
		if err == nil {
			t.Errorf("%s: taken", name)
			continue
		}
		if line, status := console.Explain(err); status != c.status || !strings.Contains(line, c.line) {
			t.Errorf("%s: %d %s, want %d with %q", name, status, line, c.status, c.line)
		}
	}
	err := console.Invoice{At: at, RO: "1", CSV: true}.Run(t.Context(), console.Out{W: io.Discard, JSON: true})
	if err == nil || !strings.HasPrefix(err.Error(), "--csv: beside --json: ") {
		t.Errorf("got %v", err)
	}
}
