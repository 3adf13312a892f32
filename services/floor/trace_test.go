package floor_test

import (
	"testing"

	"seamwright/services/floor"
)

// A recall holds whatever was laid of the lot and lies in the shop, however
// the shop came to know which lot it was.
func TestARecallReachesAllThatLiesInTheShop(t *testing.T) {
	const recall = "\nrecall L-mb because lumps"
	lay := ready("L-mb") + layHem
	for name, c := range map[string]struct {
		do     string
		lot    floor.LotID
		onHold bool
	}{
		"laid before it":             {lay + recall, "L-mb", true},
		"laid after it":              {ready("L-mb") + recall[1:] + "\n" + layHem, "L-mb", true},
		"opened by what was told":    {"fit N1 on C1\n" + layHem + "\nunpack C1 from L-mb" + recall, "L-mb", true},
		"opened after the recall":    {"fit N1 on C1\n" + layHem + recall + "\nunpack C1 from L-mb", "L-mb", true},
		"of a lot never received":    {ready("L-odd") + layHem + "\nrecall L-odd because lumps", "L-odd", true},
		"coated already":             {lay + "\nwait 1h coat 2207/hem solventborne\nlay 2207/hem cartridge C1 nozzle N1 5ml over 1m" + recall, "L-mb", true},
		"the opening corrected":      {"unpack C1 from L-hb named the-opening\nfit N1 on C1\n" + layHem + recall + "\ncorrect the-opening to unpack C1 from L-mb because misread", "L-mb", true},
		"another opening before it":  {lay + recall + "\nunpack C1 from L-hb measured 9m named other\nwithdraw other because misread", "L-mb", true},
		"not recalled":               {lay, "L-mb", false},
		"taken back":                 {lay + recall + " named r\nwithdraw r because another", "L-mb", false},
		"taken off":                  {lay + recall + "\nrework 2207/hem because of the recall", "L-mb", false},
		"delivered":                  {lay + recall + "\ndeliver 2207", "L-mb", false},
		"of another lot as it seems": {lay + "\nrecall L-hb because lumps", "L-mb", false},
	} {
		p := shop(t)
		p.do(seams)
		p.do(c.do)
		tr, ok := p.floor().Trace(c.lot)
		if !ok || len(tr.Uses) == 0 {
			t.Errorf("%s: lot %s leads nowhere", name, c.lot)
			continue
		}
		for _, u := range tr.Uses {
			if u.Seam != "2207/hem" || u.OnHold != c.onHold {
				t.Errorf("%s: %s on hold %v by %+v, removed %v, job %s", name, u.Seam, u.OnHold, u.Finding, u.Removed, u.Job)
			}
		}
		if c.onHold && tr.Why != "lumps" {
			t.Errorf("%s: recalled for %q", name, tr.Why)
		}
	}
}
