// Package console is the work of the command line: the calculators, the import
// of a shop's files, the watch on the journal, the check of a store. A command
// takes plain text as it was typed and an [Out]; parsing flags and nothing
// else is left to the program.
//
// An answer is one value with two forms: an object of JSON, numbers unrounded
// and lists never null, or lines that a person reads. Whatever is refused
// comes back as a fault that names the flag or the file and line, what stood
// there and what is allowed.
package console
