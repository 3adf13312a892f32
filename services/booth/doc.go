// Package booth is the service of the paint booth and its gate: it holds the
// booth until every seam of a load is ready.
//
// Only this service writes permits. A permit is decided at the newest event
// of the journal and appended behind exactly that event, so that nothing can
// come between the look and the leave. It is a short lease that the service
// keeps alive by looking at its grounds each second and at every event; it is
// revoked the moment a ground falls away, and nobody renews it but a painter
// who asks again. A service that starts first revokes the permits of whoever
// held them before. SprayStarted consumes a permit.
//
// Beside the gate a planner puts loads into booths and in order (package
// planner below this one). It shares nothing with the gate but the question of
// who speaks: the gate never waits for it, and it never touches a load whose
// permit runs or that is being sprayed. Where it has moved a load it tells so as a
// LoadPlanned of which only booth, start and reason count.
//
// The gate's state goes out as a numbered beat twice a second. A reader takes
// CLEAR only from two beats that advance, and silence as HOLD. It is a
// process hold, not a certified safety interlock.
package booth
