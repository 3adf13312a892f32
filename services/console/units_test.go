package console_test

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"seamwright/services/console"
	"seamwright/services/fault"
)

type asks interface{ Run(o console.Out) error }

func told(t rapid.TB, q asks) (out map[string]any) {
	t.Helper()
	var b bytes.Buffer
	if err := q.Run(console.Out{W: &b, JSON: true}); err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(b.Bytes(), &out); err != nil {
		t.Fatal(err)
	}
	return out
}

// What is typed in US units comes to the same as in metric: an inch is 25.4
// mm, a US fluid ounce 231/128 cubic inches (NIST Handbook 44, appendix C), °F
// is 9/5 °C + 32.
func TestUSUnitsComeToTheSame(t *testing.T) {
	near := func(t rapid.TB, us, metric any) {
		t.Helper()
		if a, b := us.(float64), metric.(float64); math.Abs(a-b) > 1e-9*math.Max(1, math.Abs(b)) {
			t.Errorf("%v in US units, %v in metric", a, b)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		in := rapid.IntRange(1, 39).Draw(t, "inches")
		oz := rapid.IntRange(1, 100).Draw(t, "fluid ounces")
		us := told(t, console.Bead{Profile: "ribbon", WidthMM: text(in) + "in", HeightMM: "0.125in", LengthMM: text(in) + "ft", CartridgeML: text(oz) + "floz"})
		mm := told(t, console.Bead{
			Profile: "ribbon", WidthMM: number(float64(in) * 25.4), HeightMM: "3.175", LengthMM: number(float64(in) * 304.8),
			CartridgeML: number(float64(oz) * 231 * 25.4 * 25.4 * 25.4 / 1000 / 128),
		})
		for _, key := range []string{"area_mm2", "volume_ml", "total_ml", "yield_mm"} {
			near(t, us[key], mm[key])
		}
		f := rapid.IntRange(-40, 140).Draw(t, "°F")
		warm := told(t, console.DewPoint{TempC: text(f) + "F", RH: "50%", SurfaceC: text(f) + " °F"})
		cold := told(t, console.DewPoint{TempC: number(float64(f-32) * 5 / 9), RH: "50", SurfaceC: number(float64(f-32) * 5 / 9)})
		near(t, warm["dew_point_c"], cold["dew_point_c"])
		near(t, warm["margin_k"], cold["margin_k"])
	})
}

func text(n int) string { return number(float64(n)) }

func number(x float64) string {
	b, _ := json.Marshal(x) // of a finite number it does not fail
	return string(b)
}

// Whoever asks a running shop about what is no identifier is told in words
// what one is.
func TestIdentifiersAreRefusedInWords(t *testing.T) {
	_, at, _ := shop(t)
	for name, q := range map[string]interface {
		Run(ctx context.Context, o console.Out) error
	}{
		"run":   console.SealingRun{At: at, Bay: "bay 1"},
		"stock": console.Stock{At: at, Product: "mb grey"},
		"fit":   console.Fit{At: at, Product: "mb grey"},
	} {
		err := q.Run(t.Context(), console.Out{W: io.Discard})
		if err == nil || fault.KindOf(err) != fault.Invalid {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if m := err.Error(); !strings.Contains(m, "1 to 48 letters") || strings.ContainsAny(m, "[]^$") {
			t.Errorf("%s: %s", name, m)
		}
	}
}
