// Package spec knows what goes on a seam: the words of the trade that the
// whole floor shares, the rules that choose a sealer, a bead profile, a
// technique and a nozzle for a seam, and the checks of a bead as it was
// really laid.
//
// The rules are data (see rules.go and checks.go): an identifier, a
// condition, a sentence that says why, a severity and a basis. A basis is a
// published source or "common practice, no source". The vehicle maker's
// repair procedure and the product's own sheet override the rules; a plan
// records that they did.
package spec
