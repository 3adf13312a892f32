package screens

import (
	"net/http"
	"slices"
	"strings"
	"time"

	"seamwright/services/fault"
)

// A name holds for a working day, the tablet's bay for a year.
const (
	actorAge    = 14 * time.Hour
	terminalAge = 365 * 24 * time.Hour
)

// who offers the short list of names.
func (s *server) who(w http.ResponseWriter, r *http.Request) error {
	people, err := s.src.People(r.Context())
	if err != nil {
		return err
	}
	return plain(w, http.StatusOK, "Who is working here?", "who", map[string]any{
		"People": people, "Back": ownPath(r.URL.Query().Get("back")), "Actor": cookie(r, actorCookie),
	})
}

// setWho takes a name off the list; a name that is not on it is refused.
func (s *server) setWho(w http.ResponseWriter, r *http.Request) error {
	if err := readForm(w, r); err != nil {
		return err
	}
	people, err := s.src.People(r.Context())
	if err != nil {
		return err
	}
	name := r.PostForm.Get("name")
	if !slices.ContainsFunc(people, func(p Person) bool { return p.Name == name }) {
		return fault.Bad("name", name, "one of the people of this shop")
	}
	setCookie(w, actorCookie, name, actorAge)
	http.Redirect(w, r, ownPath(r.PostForm.Get("back")), http.StatusSeeOther)
	return nil
}

// terminals offers the bays that a tablet may stand in.
func (s *server) terminals(w http.ResponseWriter, r *http.Request) error {
	all, err := s.src.Terminals(r.Context())
	if err != nil {
		return err
	}
	return plain(w, http.StatusOK, "Which bay?", "terminals", all)
}

func (s *server) setTerminal(w http.ResponseWriter, r *http.Request) error {
	if err := readForm(w, r); err != nil {
		return err
	}
	all, err := s.src.Terminals(r.Context())
	if err != nil {
		return err
	}
	id := r.PostForm.Get("terminal")
	if !slices.ContainsFunc(all, func(t Named) bool { return t.ID == id }) {
		return fault.Bad("terminal", id, "one of the terminals of this shop")
	}
	setCookie(w, terminalCookie, id, terminalAge)
	http.Redirect(w, r, "/bay", http.StatusSeeOther)
	return nil
}

// ownPath keeps a way back on this site: "//elsewhere" and "https:" are not.
func ownPath(p string) string {
	if !strings.HasPrefix(p, "/") || strings.HasPrefix(p, "//") || strings.ContainsAny(p, "\\\r\n") {
		return "/"
	}
	return p
}
