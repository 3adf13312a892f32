package crosscheck

import (
	"bytes"
	"encoding/json"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"seamwright/services/calc/climate"
	"seamwright/services/calc/colour"
)

// inputs is how many of each kind are compared.
const inputs = 10_000

// answers runs a script of the libraries over inputs, as JSON in and out.
func answers[T any](t *testing.T, library, script string, in any) (out []T) {
	t.Helper()
	if os.Getenv("CI") == "" {
		t.Skip("SKIPPED: compares with " + library + ", which is fetched; set CI=true to run it")
	}
	dir := t.TempDir()
	run := func(stdin []byte, name string, args ...string) []byte {
		c := exec.CommandContext(t.Context(), name, args...)
		c.Dir, c.Stdin = dir, bytes.NewReader(stdin)
		var trouble bytes.Buffer
		c.Stderr = &trouble
		b, err := c.Output()
		if err != nil {
			t.Fatalf("%s: %v\n%s", name, err, &trouble)
		}
		return b
	}
	run(nil, "npm", "install", "--no-audit", "--no-fund", "--no-save", library)
	file := filepath.Join(dir, "ask.mjs")
	if err := os.WriteFile(file, []byte(`import fs from "node:fs"; const rows = JSON.parse(fs.readFileSync(0)); `+script), 0o600); err != nil {
		t.Fatal(err)
	}
	b, err := json.Marshal(in)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(run(b, "node", file), &out); err != nil {
		t.Fatal(err)
	}
	if len(out) != inputs {
		t.Fatalf("%s answered %d of %d", library, len(out), inputs)
	}
	return out
}

func chance(t *testing.T) *rand.Rand {
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	return rand.New(rand.NewPCG(seed, 0))
}

// The difference CIEDE2000 of random pairs, near ones and far ones, against
// the colour library colorjs.io 0.5.2 (whose deltaE2000 takes L*a*b* as it
// comes, so that white points do not matter).
func TestColourDifferences(t *testing.T) {
	r := chance(t)
	in := make([][6]float64, inputs)
	for i := range in {
		for k := range 6 {
			switch {
			case k%3 == 0:
				in[i][k] = 100 * r.Float64()
			default:
				in[i][k] = 256*r.Float64() - 128
			}
			if k > 2 && i%2 == 0 { // a near one
				in[i][k] = in[i][k-3] + 6*r.Float64() - 3
			}
		}
		in[i][3] = min(max(in[i][3], 0), 100)
	}
	want := answers[float64](t, "colorjs.io@0.5.2", `import Color from "colorjs.io";
		console.log(JSON.stringify(rows.map(r => new Color("lab", r.slice(0, 3)).deltaE(new Color("lab", r.slice(3)), "2000"))));`, in)
	for i, p := range in {
		got := colour.Difference(colour.Lab{L: p[0], A: p[1], B: p[2]}, colour.Lab{L: p[3], A: p[4], B: p[5]})
		if math.Abs(got-want[i]) > 1e-9*max(1, want[i]) {
			t.Errorf("%v: %.12g, the library says %.12g", p, got, want[i])
		}
	}
}

// Random sRGB colours in L*a*b* under D65, against colorjs.io 0.5.2. Its white
// is that of the chromaticity 0.3127, 0.3290, which makes the last digits differ.
func TestScreenColours(t *testing.T) {
	r := chance(t)
	in := make([][3]float64, inputs)
	for i := range in {
		in[i] = [3]float64{float64(r.IntN(256)) / 255, float64(r.IntN(256)) / 255, float64(r.IntN(256)) / 255}
	}
	want := answers[[3]float64](t, "colorjs.io@0.5.2", `import Color from "colorjs.io";
		console.log(JSON.stringify(rows.map(r => new Color("srgb", r).to("lab-d65").coords)));`, in)
	for i, c := range in {
		got, err := colour.FromSRGB(c[0], c[1], c[2])
		if err != nil {
			t.Fatal(err)
		}
		if w := want[i]; math.Abs(got.L-w[0]) > 0.01 || math.Abs(got.A-w[1]) > 0.05 || math.Abs(got.B-w[2]) > 0.05 {
			t.Errorf("%v: %v, the library says %v", c, got, w)
		}
	}
}

// Random air against the psychrometrics library psychrolib 1.1.0, which uses
// the saturation pressures of Hyland and Wexler (over ice below 0.01 °C, so
// only dew points above are compared). Magnus over water stays within 0.05 K of
// them there (measured here; its own error is given as 0.4 % of the pressure).
func TestDewPoints(t *testing.T) {
	r := chance(t)
	in := make([][2]float64, inputs)
	for i := range in {
		in[i] = [2]float64{1 + 49*r.Float64(), 5 + 95*r.Float64()}
	}
	want := answers[float64](t, "psychrolib@1.1.0", `import { createRequire } from "node:module"; const p = createRequire(import.meta.url)("psychrolib");
		p.SetUnitSystem(p.SI); console.log(JSON.stringify(rows.map(r => p.GetTDewPointFromRelHum(r[0], r[1] / 100))));`, in)
	compared, worst := 0, 0.0
	for i, a := range in {
		if want[i] <= 0.1 {
			continue
		}
		compared++
		got, err := climate.DewPoint(a[0], a[1])
		if err != nil {
			t.Fatal(err)
		}
		off := math.Abs(got - want[i])
		worst = max(worst, off)
		if off > 0.05 {
			t.Errorf("%g °C, %g %%: %g °C, the library says %g °C", a[0], a[1], got, want[i])
		}
	}
	t.Logf("%d compared, the farthest apart by %.3f K", compared, worst)
	if compared < inputs/2 {
		t.Errorf("only %d compared", compared)
	}
}
