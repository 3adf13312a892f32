// Package feed is what feeds the screens of a running shop. It reads the
// floor, puts what it finds into the shop's words, and hands over what people
// press through the services' own clients, as a program from outside would.
//
// It decides nothing. Whether a booth is clear is the gate's word; whether a
// fact fits is the services'. What it adds is arrangement: which step of a seam
// comes next ([nextStep]), where the loads would stand on the day's axis, and
// by when a seam must be laid so that its coat window is open by then. Those
// are forecasts for people, not rules.
package feed
