package jobs

// CheckFact is what is particular to the facts of this service.
var CheckFact = check
