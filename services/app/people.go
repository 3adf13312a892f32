package app

import (
	"context"
	"fmt"

	"google.golang.org/protobuf/proto"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	"seamwright/services/access"
	"seamwright/services/fault"
	"seamwright/services/floor"
)

// people finds who works in the shop. A folder without a list of people has
// nobody: facts are recorded, but nobody can sign as a foreman.
func people(o Options) (*access.Shop, error) {
	if o.People != nil || o.Dir == "" {
		return o.People, nil
	}
	p, err := access.Load(PeopleFile(o.Dir))
	if err != nil && fault.KindOf(err) == fault.NotFound {
		o.Log.Warn("the shop has no list of people: nobody can sign as a foreman", "file", PeopleFile(o.Dir))
		return access.Parse("people.yaml", nil)
	}
	return p, err
}

// vouch refuses who signs as a foreman and is none. Everybody else is taken
// at their word: a fact is recorded whoever tells it, under the name told.
func vouch(p *access.Shop) func(context.Context, proto.Message) error {
	if p == nil {
		return nil
	}
	return func(_ context.Context, m proto.Message) error {
		s, ok := m.(interface{ GetStamp() *floorv1.Stamp })
		if !ok || s.GetStamp().GetRole() != floorv1.Role_ROLE_FOREMAN {
			return nil
		}
		name := s.GetStamp().GetActor()
		if who, ok := p.Person(name); ok && who.Role == floor.Foreman {
			return nil
		}
		return fault.New(fault.Denied, "not-a-foreman", fmt.Sprintf("%s is not a foreman of this shop", name),
			"sign in your own role, or put the foreman into people.yaml")
	}
}
