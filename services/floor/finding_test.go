package floor_test

import (
	"strings"
	"testing"

	"seamwright/services/calc/spec"
)

// flaw is something that is wrong about a fact, beside the same work done
// rightly.
type flaw struct {
	name     string
	rule     string
	severity spec.Severity
	subject  string
	reason   string // part of the sentence: the values and limits that led to it
	basis    string // part of it
	wrong    string
	right    string
}

// The seams of these tests: hem is a door hem for a medium-bodied sealer, rd a
// roof ditch for a self-levelling one, rip a ripple joint on bare steel.
const seams = `survey 2207/hem "door hem" L panel door-l vertical coated e-coat length 900 like before-tear-down medium-bodied round grey 6x3
survey 2207/rd "roof ditch" L panel roof level coated epoxy-primer length 1200 like before-tear-down self-levelling levelled grey 12x2
survey 2207/rip "apron joint" L panel apron vertical coated bare-steel length 600 like before-tear-down medium-bodied ripple grey 10x4
survey 2207/floor "trunk floor joint" panel floor level exposed epoxy-primer length 900 like before-tear-down heavy-bodied brushed white 20x2
plan 2207/hem mb-grey round direct-bead 6x3 13ml
plan 2207/rd sl-grey levelled direct-bead 12x2 30ml
plan 2207/rip mb-grey ripple wet-bed-then-bead 10x4 25ml
plan 2207/floor hb-white brushed brushed 20x2 40ml
prep 2207/hem e-coat
prep 2207/rd epoxy-primer
prep 2207/rip bare-steel
prep 2207/floor epoxy-primer
at 08:05`

// ready makes a cartridge ready to lay from.
func ready(lot string) string {
	return "unpack C1 from " + lot + "\nequalise C1\nfit N1 on C1\npurge C1 5ml\n"
}

// A car rolls out of a booth at 60 °C, and a joint of it is sealed in the bay.
const (
	outOfTheHotBooth = "\nload A of 2207 in booth-1 seams 2207/hem\nspray A\nwait 20m\nprobe booth-1 60\nread booth-1 60\nwait 2m\nread booth-1 60\nfinish A\ncar 2207 bay-1\n"
	layX             = "survey 2207/x \"sill joint\" L panel sill vertical coated e-coat length 500\nprep 2207/x e-coat\npurge C1\nwait 2m lay 2207/x cartridge C1 nozzle N1 5ml over 20s"
)

const layHem = "wait 2m lay 2207/hem cartridge C1 nozzle N1 over 1m"

var flaws = []flaw{
	{
		"the nozzle had gelled", "nozzle-gelled", spec.Stop, "seam/2207/hem", "8 allowed less 10 %", "product sheet",
		ready("L-mb") + "wait 12m lay 2207/hem cartridge C1 nozzle N1 over 1m",
		ready("L-mb") + layHem,
	},
	{
		"the nozzle may have gelled", "nozzle-gelled", spec.Stop, "seam/2207/hem", "may have gelled", "product sheet",
		ready("L-mb") + "probe bay-1 dies\nwait 8m lay 2207/hem cartridge C1 nozzle N1 over 1m",
		ready("L-mb") + "probe bay-1 dies\nwait 5m lay 2207/hem cartridge C1 nozzle N1 over 1m",
	},
	{
		"the nozzle had gelled and another was fitted", "nozzle-gelled", spec.Stop, "seam/2207/rd", "no other was fitted since", "product sheet",
		ready("L-sl") + "wait 12m lay 2207/hem cartridge C1 nozzle N1 over 1m\nwait 2m lay 2207/rd cartridge C1 nozzle N1 over 1m",
		ready("L-sl") + "wait 2m lay 2207/hem cartridge C1 nozzle N1 over 1m\nwait 12m fit N2 on C1\npurge C1 5ml\nwait 2m lay 2207/rd cartridge C1 nozzle N2 over 1m",
	},
	{
		"the lot is out of date", "lot-out-of-date", spec.Stop, "seam/2207/hem", "1 Mar 2026 00:00", "product sheet",
		"lot L-old of mb-grey cartridges 1 expires 2026-03-01\n" + ready("L-old") + layHem,
		"lot L-old of mb-grey cartridges 1 expires 2026-03-03\n" + ready("L-old") + layHem,
	},
	{
		"the opened cartridge is too old", "opened-life-over", spec.Query, "seam/2207/hem", "90 days", "product sheet",
		"unpack C1 from L-mb measured 89d\nretime-me\nequalise C1\nfit N1 on C1\npurge C1 5ml\n" + layHem,
		"unpack C1 from L-mb measured 80d\nequalise C1\nfit N1 on C1\npurge C1 5ml\n" + layHem,
	},
	{
		"the cartridge was not equalised", "not-equalised", spec.Stop, "seam/2207/hem", "C1", "common practice",
		"unpack C1 from L-mb\nfit N1 on C1\npurge C1 5ml\n" + layHem,
		ready("L-mb") + layHem,
	},
	{
		"the nozzle was not purged", "not-purged", spec.Stop, "seam/2207/hem", "C1", "common practice",
		"unpack C1 from L-mb\nequalise C1\nfit N1 on C1\n" + layHem,
		ready("L-mb") + layHem,
	},
	{
		"another nozzle than was purged", "not-purged", spec.Stop, "seam/2207/hem", "C1", "common practice",
		ready("L-mb") + "wait 2m lay 2207/hem cartridge C1 nozzle N9 over 1m",
		ready("L-mb") + layHem,
	},
	{
		"another class than planned", "class-not-planned", spec.Query, "seam/2207/hem", "Planned medium-bodied, laid heavy-bodied", "common practice",
		ready("L-hb") + layHem,
		ready("L-mb") + layHem,
	},
	{
		"another colour on an exposed seam", "colour-not-planned", spec.Query, "seam/2207/floor", "exposed", "common practice",
		"product hb-grey heavy-bodied grey 200ml energy 52 at 21 gel 8 tooling 12 handling 45 full 1440 solventborne 0..2880\nlot L-x of hb-grey cartridges 1 expires 2027-01-01\n" +
			ready("L-x") + "wait 2m lay 2207/floor cartridge C1 nozzle N1 over 1m",
		ready("L-hb") + "wait 2m lay 2207/floor cartridge C1 nozzle N1 over 1m",
	},
	{
		"self-levelling on bare metal", "sl-bare-metal", spec.Stop, "seam/2207/rd", "bare-steel", "ASTM C920",
		"prep 2207/rd bare-steel\n" + ready("L-sl") + "wait 2m lay 2207/rd cartridge C1 nozzle N1 over 1m",
		ready("L-sl") + "wait 2m lay 2207/rd cartridge C1 nozzle N1 over 1m",
	},
	{
		"self-levelling on self-etch primer", "sl-self-etch", spec.Stop, "seam/2207/rd", "self-etch", "common practice",
		"prep 2207/rd self-etch-primer\n" + ready("L-sl") + "wait 2m lay 2207/rd cartridge C1 nozzle N1 over 1m",
		"prep 2207/rd dtm-urethane-primer\n" + ready("L-sl") + "wait 2m lay 2207/rd cartridge C1 nozzle N1 over 1m",
	},
	{
		"self-levelling on a joint that is not level", "sl-not-level", spec.Stop, "seam/2207/hem", "vertical", "ASTM C920",
		ready("L-sl") + layHem,
		ready("L-mb") + layHem,
	},
	{
		"ripple on bare metal without a wet bed", "ripple-bare-metal", spec.Stop, "seam/2207/rip", "bare-steel", "common practice",
		ready("L-mb") + "wait 2m lay 2207/rip direct-bead cartridge C1 nozzle N1 over 1m",
		ready("L-mb") + "wait 2m lay 2207/rip bed cartridge C1 nozzle N1 8ml over 1m\nwait 2m lay 2207/rip cartridge C1 nozzle N1 over 1m",
	},
	{
		"the undercoat was not dry", "undercoat-not-dry", spec.Stop, "seam/2207/rd", "dry from 09:05", "product sheet",
		"undercoat 2207/rd epoxy-primer dry 60m\nwait 50m\n" + ready("L-sl") + "wait 2m lay 2207/rd cartridge C1 nozzle N1 over 1m",
		"undercoat 2207/rd epoxy-primer dry 60m\nwait 60m\n" + ready("L-sl") + "wait 2m lay 2207/rd cartridge C1 nozzle N1 over 1m",
	},
	{
		"the undercoat was past its recoat time", "undercoat-past-recoat", spec.Stop, "seam/2207/rd", "by 10:05 or scuffed", "product sheet",
		"undercoat 2207/rd epoxy-primer recoat 2h\nwait 2h\n" + ready("L-sl") + "wait 2m lay 2207/rd cartridge C1 nozzle N1 over 1m",
		"undercoat 2207/rd epoxy-primer recoat 2h\nwait 2h\nscuff 2207/rd\n" + ready("L-sl") + "wait 2m lay 2207/rd cartridge C1 nozzle N1 over 1m",
	},
	{
		"too near the dew point", "near-dew-point", spec.Query, "seam/2207/hem", "It was", "ISO 8502-4",
		"read bay-1 21 rh 84\n" + ready("L-mb") + layHem,
		"read bay-1 21 rh 60\n" + ready("L-mb") + layHem,
	},
	{
		"the air was too humid", "humid-air", spec.Query, "seam/2207/hem", "90 %", "ISO 8502-4",
		"read bay-1 21 rh 90\n" + ready("L-mb") + layHem,
		"read bay-1 21 rh 84\n" + ready("L-mb") + layHem,
	},
	{
		"below what the product allows", "below-product-temperature", spec.Query, "seam/2207/hem", "wants 10.0 °C", "product sheet",
		ready("L-mb") + "wait 2m lay 2207/hem cartridge C1 nozzle N1 over 1m surface 9.5",
		ready("L-mb") + "wait 2m lay 2207/hem cartridge C1 nozzle N1 over 1m surface 10",
	},
	{
		"above what the product allows", "above-product-temperature", spec.Query, "seam/2207/hem", "allows 40.0 °C", "product sheet",
		ready("L-mb") + "wait 2m lay 2207/hem cartridge C1 nozzle N1 over 1m surface 40.5",
		ready("L-mb") + "wait 2m lay 2207/hem cartridge C1 nozzle N1 over 1m surface 40",
	},
	{
		"a panel still hot from the booth", "above-product-temperature", spec.Query, "seam/2207/x", "allows 40.0 °C", "product sheet",
		ready("L-mb") + layHem + outOfTheHotBooth + layX,
		ready("L-mb") + layHem + outOfTheHotBooth + "wait 40m\n" + layX,
	},
	{
		"tooled too late", "tooled-late", spec.Query, "seam/2207/hem", "Tooled at 08:22", "product sheet",
		ready("L-mb") + layHem + "\nwait 15m tool 2207/hem tape pulled",
		ready("L-mb") + layHem + "\nwait 5m tool 2207/hem tape pulled",
	},
	{
		"coated after the window had closed", "coat-after-close", spec.Stop, "seam/2207/hem", "without a scuff", "product sheet",
		ready("L-mb") + layHem + "\nat 2026-03-04 16:00 coat 2207/hem solventborne over 10m",
		ready("L-mb") + layHem + "\nat 2026-03-04 15:00 scuff 2207/hem\nat 2026-03-04 16:00 coat 2207/hem solventborne over 10m",
	},
	{
		"coated before the window was open", "coat-before-open", spec.Stop, "seam/2207/hem", "not surely open", "product sheet",
		ready("L-mb") + layHem + "\nwait 60m coat 2207/hem waterborne over 10m",
		ready("L-mb") + layHem + "\nwait 90m coat 2207/hem waterborne over 10m",
	},
	{
		"a coat that nothing is known of", "coat-window-unknown", spec.Query, "seam/2207/hem", "undercoat", "common practice",
		ready("L-mb") + layHem + "\nwait 60m coat 2207/hem undercoat over 10m",
		ready("L-mb") + layHem + "\nwait 60m coat 2207/hem solventborne over 10m",
	},
	{
		"sprayed without a permit", "sprayed-without-permit", spec.Stop, "load/A", "without a permit", "common practice",
		ready("L-mb") + layHem + "\nload A of 2207 in booth-1 seams 2207/hem\nspray A",
		ready("L-mb") + layHem + "\nload A of 2207 in booth-1 seams 2207/hem\npermit A\nspray A",
	},
	{
		"more drawn than the cartridge held", "volume-overdrawn", spec.Query, "cartridge/C1", "5.0 ml more than it held", "common practice",
		ready("L-mb") + "wait 2m lay 2207/hem cartridge C1 nozzle N1 200ml over 1m",
		ready("L-mb") + "wait 2m lay 2207/hem cartridge C1 nozzle N1 195ml over 1m",
	},
	{
		"a stage that does not fit", "stage-misfit", spec.Query, "seam/2207/hem", "not laid with all its layers", "common practice",
		"coat 2207/hem solventborne over 5m",
		ready("L-mb") + layHem + "\nwait 60m coat 2207/hem solventborne over 5m",
	},
	{
		"nobody prepped it", "not-prepped", spec.Query, "seam/2207/new", "prepped", "common practice",
		"survey 2207/new \"rail joint\" L panel apron vertical coated e-coat length 300\n" + ready("L-mb") + "wait 2m lay 2207/new cartridge C1 nozzle N1 5ml over 1m",
		"survey 2207/new \"rail joint\" L panel apron vertical coated e-coat length 300\nprep 2207/new e-coat\n" + ready("L-mb") + "wait 2m lay 2207/new cartridge C1 nozzle N1 5ml over 1m",
	},
	{
		"an unknown cartridge", "cartridge-unknown", spec.Query, "seam/2207/hem", "C7", "common practice",
		"wait 2m lay 2207/hem cartridge C7 nozzle N1 over 1m",
		ready("L-mb") + layHem,
	},
	{
		"water came through", "leaks", spec.Stop, "seam/2207/hem", "Water came through", "common practice",
		ready("L-mb") + layHem + "\nwait 60m water-test 2207/hem a drop at the corner",
		ready("L-mb") + layHem + "\nwait 60m water-test 2207/hem tight",
	},
	{
		"tested too early", "tested-early", spec.Query, "seam/2207/hem", "not surely fit for handling", "product sheet",
		ready("L-mb") + layHem + "\nwait 30m water-test 2207/hem tight",
		ready("L-mb") + layHem + "\nwait 60m water-test 2207/hem tight",
	},
	{
		"the bead was disturbed", "bead-disturbed", spec.Stop, "seam/2207/hem", "a sleeve", "common practice",
		ready("L-mb") + layHem + "\ndisturb 2207/hem because a sleeve brushed it",
		ready("L-mb") + layHem + "\ntool 2207/hem",
	},
	{
		"the coated bead was disturbed", "bead-disturbed", spec.Stop, "seam/2207/hem", "a ladder", "common practice",
		ready("L-mb") + layHem + "\nwait 60m coat 2207/hem solventborne over 5m\ndisturb 2207/hem because a ladder fell",
		ready("L-mb") + layHem + "\nwait 60m coat 2207/hem solventborne over 5m",
	},
	{
		"the booth does not hold that load", "stage-misfit", spec.Query, "booth/booth-1", "does not hold that load", "common practice",
		"load A of 2207 in booth-1 seams 2207/hem\nfinish A",
		ready("L-mb") + layHem + "\nload A of 2207 in booth-1 seams 2207/hem\npermit A\nspray A\nfinish A",
	},
}

func TestFindings(t *testing.T) {
	for _, f := range flaws {
		t.Run(f.name, func(t *testing.T) {
			f.wrong = strings.ReplaceAll(f.wrong, "retime-me\n", "wait 48h\n")
			p := shop(t)
			p.do(seams)
			p.do(f.wrong)
			var found bool
			for _, s := range p.holding(f.rule) {
				if s.Thing() != f.subject {
					continue
				}
				found = true
				if s.Severity != f.severity {
					t.Errorf("%s is a %s, want a %s", f.rule, s.Severity, f.severity)
				}
				if !strings.Contains(s.Reason, f.reason) {
					t.Errorf("reason %q lacks %q", s.Reason, f.reason)
				}
				if !strings.Contains(s.Basis, f.basis) {
					t.Errorf("basis %q lacks %q", s.Basis, f.basis)
				}
			}
			if !found {
				t.Errorf("no %s on %s", f.rule, f.subject)
			}
			p = shop(t)
			p.do(seams)
			p.do(f.right)
			for _, s := range p.holding(f.rule) {
				t.Errorf("the faultless twin has %s on %s: %s", s.Rule, s.Thing(), s.Reason)
			}
		})
	}
}
