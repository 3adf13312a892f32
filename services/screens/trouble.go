package screens

import (
	"context"
	"encoding/json"
	"errors"
	"net/http"
	"strings"

	"seamwright/services/fault"
)

// handler is a handler that returns its error; wrap renders it.
type handler func(http.ResponseWriter, *http.Request) error

// trouble is an error as a page tells it.
type trouble struct {
	Status  int           `json:"status"`
	Heading string        `json:"heading"`
	Message string        `json:"message"`
	Hint    string        `json:"hint"`
	Fields  []fault.Field `json:"-"`
	Kept    string        `json:"kept"` // what became of what was sent
	Back    string        `json:"-"`
}

func (s *server) wrap(h handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		err := h(w, r)
		if err == nil {
			return
		}
		t := s.tell(r, err)
		if wantsJSON(r) {
			w.Header().Set("Content-Type", "application/json")
			w.WriteHeader(t.Status)
			if err := json.NewEncoder(w).Encode(t); err != nil {
				s.opt.Log.Info("screen went away", "path", r.URL.Path, "err", err)
			}
			return
		}
		if err := plain(w, t.Status, t.Heading, "trouble", t); err != nil {
			s.opt.Log.Error("error page", "path", r.URL.Path, "err", err)
		}
	})
}

// wantsJSON tells a press that the page's script sent.
func wantsJSON(r *http.Request) bool {
	return strings.Contains(r.Header.Get("Accept"), "application/json")
}

// tell puts an error into the page's words. The text of what is not ours to
// show goes to the log only.
func (s *server) tell(r *http.Request, err error) trouble {
	t := trouble{Heading: "Something broke", Message: "This screen could not be drawn.", Hint: "Tell whoever looks after the system; the log says more."}
	if r.Method == http.MethodPost {
		t.Message = "This could not be recorded."
	}
	kind := fault.KindOf(err)
	if errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) {
		kind = fault.Unavailable
	}
	t.Status, t.Kept = httpStatus(kind), ""
	if kind == fault.Internal || kind == fault.Corrupt {
		s.opt.Log.Error("screen failed", "path", r.URL.Path, "kind", kind.String(), "err", err)
	} else if f, ok := errors.AsType[*fault.Error](err); ok {
		t.Heading, t.Message, t.Hint, t.Fields = headings[kind], f.Message, f.Hint, f.Fields
	} else {
		t.Heading, t.Message, t.Hint = headings[kind], "The shop's records do not answer.", "Try again in a moment."
	}
	if r.Method == http.MethodPost {
		t.Kept = kept(kind)
		t.Back = r.URL.Path
	}
	if t.Back == "" || strings.HasPrefix(t.Back, "/who") || strings.HasPrefix(t.Back, "/terminal") {
		t.Back = "/"
	}
	return t
}

var headings = map[fault.Kind]string{
	fault.Invalid:     "That does not fit",
	fault.NotFound:    "Not known",
	fault.Conflict:    "The floor moved on",
	fault.Refused:     "Refused",
	fault.Denied:      "Not allowed",
	fault.Unavailable: "No answer",
	fault.Exists:      "Already there",
	fault.Cancelled:   "Broken off",
}

// kept says what became of the press.
func kept(k fault.Kind) string {
	switch k {
	case fault.Invalid, fault.NotFound, fault.Denied, fault.Exists, fault.Conflict:
		return "Nothing was recorded."
	case fault.Refused:
		return "Leave was not given."
	}
	return "It is not known whether it was recorded. Go back and press again: it takes effect once."
}

// httpStatus maps a fault's kind onto HTTP.
func httpStatus(k fault.Kind) int {
	switch k {
	case fault.Invalid:
		return http.StatusBadRequest
	case fault.NotFound:
		return http.StatusNotFound
	case fault.Conflict, fault.Refused, fault.Exists:
		return http.StatusConflict
	case fault.Denied:
		return http.StatusForbidden
	case fault.Unavailable, fault.Cancelled:
		return http.StatusServiceUnavailable
	}
	return http.StatusInternalServerError
}
