package feed

import (
	"context"
	"fmt"
	"regexp"
	"strings"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	"seamwright/services/fault"
	"seamwright/services/floor"
	"seamwright/services/screens"
)

// byHand offers to put loads somewhere by hand, and to give back those that
// were; nothing where the shop has no foreman with a PIN.
func (v *view) byHand(out *screens.Plan) {
	who := screens.Ask{Name: "person", Label: "Foreman", Type: screens.AskPick, Need: true}
	for _, p := range v.s.people() {
		if p.Role == string(floor.Foreman) {
			who.Options = append(who.Options, screens.Option{Value: p.Name, Label: p.Name})
		}
	}
	if len(who.Options) == 0 {
		return
	}
	who.Value = who.Options[0].Value
	pin := screens.Ask{Name: "pin", Label: "PIN", Type: screens.AskPIN, Need: true}
	reason := screens.Ask{Name: "reason", Label: "Reason", Type: screens.AskText}
	var all, kept []screens.Option
	for _, p := range v.kept.GetLoads() {
		l := v.f.Load(floor.LoadID(p.GetLoadId()))
		if l == nil || !l.Sprayed.IsZero() {
			continue
		}
		o := screens.Option{Value: string(l.ID), Label: strings.TrimSpace(string(l.ID) + " " + p.GetVehicle())}
		all = append(all, o)
		if l.Keep != floor.KeepNothing {
			kept = append(kept, o)
		}
	}
	if len(all) > 0 {
		in := screens.Ask{Name: "booth", Label: "Booth", Type: screens.AskPick, Options: []screens.Option{{Label: "its own"}}}
		for _, b := range out.Booths {
			in.Options = append(in.Options, screens.Option{Value: b.ID, Label: b.Name})
		}
		out.Place = press(screens.DoPlaceLoad, "Put a load by hand", "Without a start it stays in the booth, and when is the planner's.", nil,
			pick("load", "Load", "", all), in,
			screens.Ask{Name: "start", Label: "Start", Type: screens.AskText, Hint: "14:10, or 3 Mar 14:10"}, who, pin, reason)
	}
	if len(kept) > 0 {
		out.Free = press(screens.DoFreeLoad, "Give a load back to the planner", "", nil, pick("load", "Load", "", kept), who, pin, reason)
	}
}

// placeLoad puts a load somewhere by hand, or gives it back. A foreman's PIN
// says who does.
func (s *Source) placeLoad(ctx context.Context, a screens.Action, st *floorv1.Stamp, f *fields) (screens.Result, error) {
	id, who, pin := f.need("load", "the load"), f.text("person"), f.need("pin", "the foreman's PIN")
	booth, start, reason := f.text("booth"), f.text("start"), f.text("reason")
	if who == "" {
		who = a.Actor
	}
	if a.Kind == screens.DoPlaceLoad && booth+start == "" {
		f.fail(fault.Bad("start", "missing", "a start, or the booth that it stays in"))
	}
	if err := f.done(); err != nil {
		return screens.Result{}, err
	}
	if s.opt.People == nil {
		return screens.Result{}, fault.New(fault.Denied, "no-people", "this shop has no people with PINs", "enter the foreman in the people file")
	}
	p, err := s.opt.People.Check(ctx, who, pin, s.opt.Desk.Clock.Now())
	if err != nil {
		return screens.Result{}, err
	}
	if p.Role != floor.Foreman {
		return screens.Result{}, fault.New(fault.Denied, "not-a-foreman", fmt.Sprintf("%s is a %s; a load is placed by a foreman", p.Name, p.Role), "pick the foreman's name")
	}
	st.Actor, st.Role = p.Name, floorv1.Role_ROLE_FOREMAN
	var fact *boothv1.LoadPlanned
	err = s.look(ctx, 0, func(v *view) (err error) {
		fact, err = v.placed(floor.LoadID(id), a.Kind, booth, start)
		return err
	})
	if err != nil {
		return screens.Result{}, err
	}
	fact.Reason = reason
	return s.record(ctx, st, []proto.Message{fact})
}

// placed is a load as it is told now.
func (v *view) placed(id floor.LoadID, k screens.Kind, booth, start string) (*boothv1.LoadPlanned, error) {
	l, told := v.f.Load(id), v.f.ToldLoad(id)
	if l == nil || told == nil {
		return nil, fault.Missing("load", string(id), "reload the page")
	}
	if !l.Sprayed.IsZero() {
		return nil, fault.New(fault.Refused, "load-begun", fmt.Sprintf("%s has been in %s since %s; it cannot be placed", id, placeName(string(l.Booth)), v.at(l.Sprayed)), "pick another load")
	}
	b := proto.CloneOf(told)
	b.Start, b.Keep, b.Assessment = nil, boothv1.Keep_KEEP_UNSPECIFIED, nil
	if k == screens.DoFreeLoad {
		b.BoothId = string(v.f.FreeBooth(id))
		return b, nil
	}
	b.BoothId, b.Keep = string(l.Booth), boothv1.Keep_KEEP_BOOTH
	if booth != "" {
		b.BoothId = booth
	}
	if start == "" {
		return b, nil
	}
	t, err := v.startOf(start)
	b.Start, b.Keep = timestamppb.New(t), boothv1.Keep_KEEP_START
	return b, err
}

var dayAndHour = regexp.MustCompile(`^(?:([0-9]{1,2}) ([A-Za-z]{3}) )?([0-9]{1,2}:[0-9]{2})$`)

// startOf reads an hour of today, or of a day of the months around it, in the
// shop's time.
func (v *view) startOf(text string) (time.Time, error) {
	const want = "an hour of today like 14:10, or with its day, like 3 Mar 14:10"
	m := dayAndHour.FindStringSubmatch(text)
	if m == nil {
		return time.Time{}, fault.Bad("start", text, want)
	}
	hour, err := time.Parse("15:04", m[3])
	if err != nil {
		return time.Time{}, fault.Bad("start", text, want)
	}
	year, month, day := v.now.Date()
	if m[1] != "" {
		date, err := time.Parse("2 Jan 2006", fmt.Sprintf("%s %s %d", m[1], m[2], year))
		if err != nil {
			return time.Time{}, fault.Bad("start", text, want)
		}
		month, day = date.Month(), date.Day()
	}
	t := time.Date(year, month, day, hour.Hour(), hour.Minute(), 0, 0, v.now.Location())
	if v.now.Sub(t) > 180*24*time.Hour { // of the next year
		t = time.Date(year+1, month, day, hour.Hour(), hour.Minute(), 0, 0, v.now.Location())
	}
	if t.Before(v.now.Truncate(time.Minute)) {
		return t, fault.Bad("start", text, "not before "+v.at(v.now)+", the shop's time")
	}
	return t, nil
}

func saidPlaced(ev floor.Event) string {
	b := ev.Body.(*boothv1.LoadPlanned)
	switch b.GetKeep() {
	case boothv1.Keep_KEEP_START:
		return b.GetLoadId() + " is put into " + placeName(b.GetBoothId()) + " by hand"
	case boothv1.Keep_KEEP_BOOTH:
		return b.GetLoadId() + " stays in " + placeName(b.GetBoothId()) + "; when is the planner's"
	}
	return b.GetLoadId() + " is the planner's"
}
