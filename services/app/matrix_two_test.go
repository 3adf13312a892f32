package app_test

import (
	"slices"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	"seamwright/services/fault"
	"seamwright/services/floor"
)

// Two booth services that know nothing of each other, on one journal: when
// both are asked at once one gives leave, and the other one holds by name.
// What was given before the second one started is taken back by it.
func TestTwoBoothServicesGiveOneLeave(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := newLane(t)
		defer l.close()
		l.pass(2 * time.Second)
		if r, err := l.ask(); err != nil || r.GetPermit() == nil {
			t.Fatal(r, err)
		}
		b := l.second()
		c, err := b.Dial()
		if err != nil {
			t.Fatal(err)
		}
		l.ends = slices.Insert(l.ends, 0, func() { c.Close() })
		l.pass(2 * time.Second)
		if p := l.permits(); len(p) != 2 || !revokedFor(p[1], "new-holder") {
			t.Fatalf("the second one has started: %v", p)
		}
		services := []boothv1.BoothServiceClient{l.booth, boothv1.NewBoothServiceClient(c)}
		for round := range 12 {
			l.oneGives(services, round)
			l.pass(700 * time.Millisecond)
		}
	})
}

// oneGives asks all services at once, and gives the leave back.
func (l *lane) oneGives(services []boothv1.BoothServiceClient, round int) {
	l.t.Helper()
	got := make([]*boothv1.RequestPermitResponse, len(services))
	errs := make([]error, len(services))
	var all sync.WaitGroup
	for i, s := range services {
		st := l.stamp(floorv1.Role_ROLE_PAINTER)
		all.Go(func() {
			got[i], errs[i] = s.RequestPermit(l.t.Context(), &boothv1.RequestPermitRequest{Stamp: st, BoothId: theBooth, LoadId: theLoad})
		})
	}
	all.Wait()
	given := 0
	for i, r := range got {
		switch {
		case errs[i] != nil && fault.KindOf(errs[i]) != fault.Unavailable:
			l.t.Errorf("round %d: service %d: %v", round, i, errs[i])
		case r.GetPermit() != nil:
			given++
			if _, err := services[i].ReturnPermit(l.t.Context(), &boothv1.ReturnPermitRequest{Stamp: l.stamp(floorv1.Role_ROLE_PAINTER), PermitId: r.GetPermit().GetPermitId()}); err != nil {
				l.t.Errorf("round %d: giving it back: %v", round, err)
			}
		case errs[i] == nil && !slices.Contains(reasonsOf(r.GetReasons()), floor.HoldBoothPermitted):
			l.t.Errorf("round %d: service %d holds by %v", round, i, reasonsOf(r.GetReasons()))
		}
	}
	if given != 1 {
		l.t.Errorf("round %d: %d services gave leave, one may", round, given)
	}
}
