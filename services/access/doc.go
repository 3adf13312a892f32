// Package access knows the people and the terminals of a shop.
//
// They stand in one file, people.yaml, outside the journal and its proof: a
// person may be taken off the list and a PIN changed without a trace in the
// record of the work. PINs are kept as argon2id hashes only.
//
// A PIN is short, so what protects it is the work of a guess and the limit on
// guesses: [Shop.Check] does the same work for a name that nobody has, runs at
// most two hashes at a time, and locks a name after five wrong PINs in five
// minutes. That guards a shop's terminals against idle hands; it does not make
// a PIN a password for the open internet.
package access
