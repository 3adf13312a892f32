package screens

import "net/http"

// drawRun draws a bay's sealing run.
func drawRun(v Run, r ref) (page, error) {
	d := newDrawer(r, v.Picture)
	parts := []part{
		d.fault(v.Picture),
		d.draw("run-head", "head", v),
		d.draw("run-steps", "steps", v),
		d.draw("run-left", "left", v),
		d.draw("run-after", "after", v),
		d.draw("run-products", "products", v),
	}
	return finish(d, r, v.Picture, "Sealing run "+v.Zone, "run-body", parts)
}

// showRun plans a run for the bay of this terminal. It is asked once: the page
// stands still.
func (s *server) showRun(w http.ResponseWriter, r *http.Request) error {
	if cookie(r, terminalCookie) == "" {
		http.Redirect(w, r, "/terminal", http.StatusSeeOther)
		return nil
	}
	return s.show(w, r, ref{Kind: "run", Static: true})
}
