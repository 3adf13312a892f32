package screens

import (
	"cmp"
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"strings"

	"seamwright/services/fault"
)

// formLimit bounds a press: a few fields of a few hundred letters.
const formLimit = 16 << 10

// readForm parses a press. Anything but a small urlencoded form is refused.
func readForm(w http.ResponseWriter, r *http.Request) error {
	kind, _, _ := strings.Cut(r.Header.Get("Content-Type"), ";")
	if kind != "application/x-www-form-urlencoded" {
		return fault.Bad("content-type", quote(kind), "application/x-www-form-urlencoded")
	}
	r.Body = http.MaxBytesReader(w, r.Body, formLimit)
	if err := r.ParseForm(); err != nil {
		return fault.New(fault.Invalid, "bad-form", "the form could not be read: "+err.Error(), fmt.Sprintf("send at most %d bytes", formLimit))
	}
	return nil
}

func (s *server) postBay(w http.ResponseWriter, r *http.Request) error {
	a := Action{RO: r.PathValue("ro"), Seam: r.PathValue("seam")}
	return s.post(w, r, a, bayKinds)
}

func (s *server) postBooth(w http.ResponseWriter, r *http.Request) error {
	return s.post(w, r, Action{Booth: r.PathValue("id")}, boothKinds)
}

func (s *server) postPlan(w http.ResponseWriter, r *http.Request) error {
	return s.post(w, r, Action{Desk: true}, deskKinds)
}

// post checks a press's form, hands it to the Source and sends the viewer
// back to the page with what was said.
func (s *server) post(w http.ResponseWriter, r *http.Request, a Action, kinds map[Kind][]string) error {
	if err := readForm(w, r); err != nil {
		return err
	}
	a, err := fill(a, r)
	if err != nil {
		return err
	}
	if err := check(a, kinds); err != nil {
		return err
	}
	if _, err := s.outcomes.once(a, func() (Result, error) { return s.src.Post(r.Context(), a) }); err != nil {
		return err
	}
	s.bell.ring()
	back := r.URL.EscapedPath() + "?" + url.Values{"said": {a.CommandID}}.Encode()
	if wantsJSON(r) {
		w.Header().Set("Content-Type", "application/json")
		return json.NewEncoder(w).Encode(map[string]string{"go": back})
	}
	http.Redirect(w, r, back, http.StatusSeeOther)
	return nil
}

// fill reads the action's parts from the form and the cookies.
func fill(a Action, r *http.Request) (Action, error) {
	a.Kind, a.CommandID = Kind(r.PostForm.Get("kind")), r.PostForm.Get("command")
	a.Actor, a.Terminal = cookie(r, actorCookie), cookie(r, terminalCookie)
	if a.Desk { // whose PIN it is says who
		a.Actor, a.Terminal = cmp.Or(r.PostForm.Get("f.person"), a.Actor), cmp.Or(a.Terminal, "desk")
	}
	if a.Actor == "" {
		return a, fault.New(fault.Denied, "no-name", "nobody has picked a name at this screen", "go back, pick your name and press again")
	}
	if a.Terminal == "" && a.Booth != "" {
		a.Terminal = "booth-" + a.Booth
	}
	a.Fields = map[string]string{}
	for key, values := range r.PostForm {
		name, isField := strings.CutPrefix(key, "f.")
		if !isField {
			continue
		}
		if len(values) != 1 {
			return a, fault.Bad(name, len(values), "sent once")
		}
		if v := strings.TrimSpace(values[0]); v != "" { // an empty field was not filled in
			a.Fields[name] = v
		}
	}
	return a, nil
}
