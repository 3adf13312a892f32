package spec

// Entry is one line of the rule book for people.
type Entry struct {
	ID       string
	Aspect   Aspect
	Severity Severity // empty for a rule that decides instead of warning
	Reason   string
	Basis    string
}

// RuleBook lists every rule, those that decide a plan first and then those
// that Check applies, in the order in which they are asked.
func RuleBook() []Entry {
	var out []Entry
	for _, c := range choices() {
		out = append(out, Entry{ID: c.ID, Aspect: c.Aspect, Reason: c.Reason, Basis: c.Basis})
	}
	for _, r := range Rules() {
		out = append(out, Entry{ID: r.ID, Aspect: r.Aspect, Severity: r.Severity, Reason: r.Reason, Basis: r.Basis})
	}
	return out
}
