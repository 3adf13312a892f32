package floor_test

import (
	"slices"
	"testing"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/floor"
)

// Products are listed in order and as they stand: not one that was taken back,
// and again once it is defined again.
func TestProductsAreWhatIsDefined(t *testing.T) {
	g := grow(t, 1, 1) // with a product mb
	want := func(ids ...floor.ProductID) {
		t.Helper()
		if got := g.f.Products(); !slices.Equal(got, ids) {
			t.Errorf("%v, want %v", got, ids)
		}
	}
	want("mb")
	define := func(id string) uint64 {
		g.tell(t, &materialsv1.ProductDefined{
			ProductId: id, Name: id, Class: floorv1.SealerClass_SEALER_CLASS_HEAVY_BODIED, CartridgeMl: 200,
			Cure: &materialsv1.Cure{ReferenceTempC: 21, ActivationLowKjMol: 52, ActivationNominalKjMol: 52, ActivationHighKjMol: 52},
		})
		return g.f.Seq()
	}
	z, a := define("z"), define("a")
	want("a", "mb", "z")
	g.tell(t, &jobsv1.FactWithdrawn{Sequence: a, Why: "told in error"})
	want("mb", "z")
	g.tell(t, &jobsv1.FactWithdrawn{Sequence: z, Why: "told in error"})
	want("mb")
	define("a")
	want("a", "mb")
}
