package plan

import "flag"

// longer asks for the long form of the random tests.
var longer = flag.Bool("longer", false, "more random problems")
