// Package intake reads the files that a shop brings: products, zones and
// booths in YAML; the survey, the loads and temperature readings in CSV.
//
// It is strict. An unknown or repeated key or column, a value out of
// range, a number that is not finite, ill-formed text or a required value
// that is missing is refused, and nothing of the file is kept. Everything
// that is wrong with one file comes back as one fault of kind Invalid; each
// of its lines reads "FILE:line field: value: limit and what to do". A byte
// order mark and CRLF line ends are read. Columns are found by name; a
// column that may be empty may also be absent.
//
// A file may have at most MaxBytes (a YAML file MaxYAMLBytes).
package intake

// MaxBytes is the most that one file may have.
const MaxBytes = 16 << 20

// MaxYAMLBytes is the most that one YAML file may have: its tree takes many
// times its size in memory.
const MaxYAMLBytes = 1 << 20

// The most rows that a table may have, header not counted.
const (
	MaxReadings = 500_000 // a year of readings every minute or so
	MaxSeams    = 20_000
	MaxLoads    = 10_000 // what the planner takes
)
