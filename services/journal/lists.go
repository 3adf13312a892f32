package journal

// attrHeaders are the headers of the attributes that an event has, so that
// their names are not put together for each.
var attrHeaders = func() map[string]string {
	m := map[string]string{}
	for _, name := range []string{
		attrActor, attrRole, attrTerminal, attrAgeKind, attrReceived, attrOccurred, attrEarliest, attrLatest, attrRules,
	} {
		m[name] = headerPrefix + name
	}
	return m
}()

// ToLists puts a record's headers in wire form into h, as FromLists reads
// them; source stands in place of the record's own.
func ToLists(r Record, source string, h map[string][]string) {
	values := make([]string, 0, 7+len(r.Attrs))
	put := func(name, value string) {
		values = append(values, value)
		h[name] = values[len(values)-1 : len(values) : len(values)]
	}
	put(hdrSpec, specVersion)
	put(hdrID, EscapeValue(r.ID))
	put(hdrSource, EscapeValue(source))
	put(hdrType, EscapeValue(r.Type))
	put(hdrSubject, EscapeValue(r.Aggregate))
	put(hdrTime, formatTime(r.Time))
	put(hdrContent, contentType)
	for name, v := range r.Attrs {
		header, ok := attrHeaders[name]
		if !ok {
			header = headerPrefix + name
		}
		put(header, EscapeValue(v))
	}
}
