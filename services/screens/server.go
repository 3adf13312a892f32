package screens

import (
	"bytes"
	"context"
	"log/slog"
	"net/http"
	"net/url"
	"strings"
	"time"

	"seamwright/services/fault"
)

// Options are how the screens are served; the zero value is fit for use.
type Options struct {
	Shop string // the name over the index page
	// Beat is how often a viewer is told that the page is alive, and how
	// often its picture is drawn again without an event; 0: each second. A page
	// that shows a gate is told twice as often: its viewer takes a silence of
	// less than two seconds for HOLD, and one word may come late.
	Beat time.Duration
	// WriteWithin is how long a viewer may take to read what it is sent
	// before it is cut off; 0: 5 seconds.
	WriteWithin time.Duration
	Log         *slog.Logger // nil: slog.Default
}

// defaultBeat is how often a viewer is told that its page is alive.
const defaultBeat = time.Second

// server holds what the handlers share.
type server struct {
	src      Source
	opt      Options
	viewers  *viewers
	outcomes *outcomes
	bell     *bell
}

// New serves every screen from src until ctx ends; open streams are then
// closed.
func New(ctx context.Context, src Source, opt Options) http.Handler {
	if opt.Beat <= 0 {
		opt.Beat = defaultBeat
	}
	if opt.WriteWithin <= 0 {
		opt.WriteWithin = 5 * time.Second
	}
	if opt.Log == nil {
		opt.Log = slog.Default()
	}
	if opt.Shop == "" {
		opt.Shop = "Seamwright"
	}
	s := &server{src: src, opt: opt, viewers: newViewers(), outcomes: newOutcomes(), bell: newBell(ctx)}
	go s.bell.follow(src.Changes(ctx))
	return s.routes()
}

func (s *server) routes() http.Handler {
	mux := http.NewServeMux()
	for pattern, h := range map[string]handler{
		"GET /{$}":              s.index,
		"GET /board":            s.showBoard,
		"GET /plan":             s.showPlan,
		"POST /plan":            s.postPlan,
		"GET /booth/{id}":       s.showBooth,
		"POST /booth/{id}":      s.postBooth,
		"GET /run":              s.showRun,
		"GET /bay":              s.showBay,
		"GET /bay/{ro}":         s.showBay,
		"GET /bay/{ro}/{seam}":  s.showBay,
		"POST /bay/{ro}/{seam}": s.postBay,
		"GET /who":              s.who,
		"POST /who":             s.setWho,
		"GET /terminal":         s.terminals,
		"POST /terminal":        s.setTerminal,
		"GET /gallery":          s.gallery,
		"GET /gallery/{name}":   s.galleryPage,
		"GET /events":           s.events,
		"GET /":                 nowhere,
	} {
		mux.Handle(pattern, s.wrap(h))
	}
	mux.Handle("GET /assets/", assets())
	guard := http.NewCrossOriginProtection()
	guard.SetDenyHandler(s.wrap(func(http.ResponseWriter, *http.Request) error {
		return fault.New(fault.Denied, "cross-origin", "this press came from another site's page", "open the screen itself and press there")
	}))
	return headers(guard.Handler(mux))
}

// policy lets a page load from here alone, with no inline script or style.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; font-src 'self'; img-src 'self'; " +
	"connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

func headers(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Cache-Control", "no-store")
		next.ServeHTTP(w, r)
	})
}

func assets() http.Handler {
	files := http.FileServerFS(assetFiles)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if strings.HasSuffix(r.URL.Path, "/") {
			http.NotFound(w, r)
			return
		}
		if r.URL.Query().Has("v") {
			w.Header().Set("Cache-Control", "public, max-age=31536000, immutable")
		} else {
			w.Header().Set("Cache-Control", "public, max-age=3600")
		}
		files.ServeHTTP(w, r)
	})
}

// load asks the Source for a page's view and draws it.
func (s *server) load(ctx context.Context, r ref) (page, error) {
	said := s.outcomes.result(r.Said)
	switch r.Kind {
	case "board":
		v, err := s.src.Board(ctx)
		if err != nil {
			return page{}, err
		}
		return drawBoard(v, r)
	case "booth":
		v, err := s.src.Booth(ctx, r.Booth)
		if err != nil {
			return page{}, err
		}
		return drawBooth(v, r, said)
	case "plan":
		v, err := s.src.Plan(ctx, r.Asked)
		if err != nil {
			return page{}, err
		}
		return drawPlan(v, r, said)
	case "run":
		v, err := s.src.Run(ctx, r.Terminal)
		if err != nil {
			return page{}, err
		}
		return drawRun(v, r)
	case "bay":
		v, err := s.src.Bay(ctx, r.Terminal, r.RO, r.Seam)
		if err != nil {
			return page{}, err
		}
		return drawBay(v, r, said)
	}
	return page{}, fault.Bad("page", r.Kind, "board, booth, bay, plan or run")
}

// show draws a page for a new viewer.
func (s *server) show(w http.ResponseWriter, req *http.Request, r ref) error {
	r.Actor, r.Terminal = cookie(req, actorCookie), cookie(req, terminalCookie)
	r.Said = req.URL.Query().Get("said")
	r.Viewer = newToken()
	p, err := s.load(req.Context(), r)
	if err != nil {
		return err
	}
	s.viewers.remember(r.Viewer, p.parts)
	return write(w, http.StatusOK, "page", p)
}

func (s *server) showBoard(w http.ResponseWriter, r *http.Request) error {
	return s.show(w, r, ref{Kind: "board"})
}

func (s *server) showPlan(w http.ResponseWriter, r *http.Request) error {
	q := asked(r.URL.Query())
	return s.show(w, r, ref{Kind: "plan", Asked: q, Static: !q.Empty()}) // a question is asked once
}

func (s *server) showBooth(w http.ResponseWriter, r *http.Request) error {
	return s.show(w, r, ref{Kind: "booth", Booth: r.PathValue("id")})
}

func (s *server) showBay(w http.ResponseWriter, r *http.Request) error {
	if cookie(r, terminalCookie) == "" {
		http.Redirect(w, r, "/terminal", http.StatusSeeOther)
		return nil
	}
	return s.show(w, r, ref{Kind: "bay", RO: r.PathValue("ro"), Seam: r.PathValue("seam")})
}

// nowhere is every address that no screen has.
func nowhere(_ http.ResponseWriter, r *http.Request) error {
	return fault.Missing("screen", r.URL.Path, "the page behind Back lists the screens of this shop")
}

func (s *server) index(w http.ResponseWriter, r *http.Request) error {
	booths, err := s.src.Booths(r.Context())
	if err != nil {
		return err
	}
	return plain(w, http.StatusOK, s.opt.Shop, "index", map[string]any{"Shop": s.opt.Shop, "Booths": booths})
}

// plain writes a page that neither moves nor listens.
func plain(w http.ResponseWriter, status int, title, body string, v any) error {
	return write(w, status, "plain", map[string]any{"Title": title, "Body": body, "V": v})
}

// write renders before it writes, so that a template's error still becomes
// an error page.
func write(w http.ResponseWriter, status int, name string, v any) error {
	var b bytes.Buffer
	if err := templates.ExecuteTemplate(&b, name, v); err != nil {
		return err
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	_, err := b.WriteTo(w)
	if err != nil {
		return nil // the viewer went away: nobody is left to be told
	}
	return nil
}

const (
	actorCookie    = "seamwright-who"
	terminalCookie = "seamwright-terminal"
)

func cookie(r *http.Request, name string) string {
	c, err := r.Cookie(name)
	if err != nil {
		return ""
	}
	v, err := url.QueryUnescape(c.Value)
	if err != nil {
		return ""
	}
	return v
}

// setCookie keeps a choice on this screen. It is sent to this site's own
// pages only and no script reads it.
func setCookie(w http.ResponseWriter, name, value string, age time.Duration) {
	http.SetCookie(w, &http.Cookie{
		Name: name, Value: url.QueryEscape(value), Path: "/", MaxAge: int(age.Seconds()),
		HttpOnly: true, SameSite: http.SameSiteStrictMode,
	})
}
