package words

import "errors"

// Carried is an error on its way to another process, which says it in whatever
// language is spoken there. It is written as JSON.
type Carried struct {
	Key    string              `json:"key,omitempty"`
	Values Values              `json:"values,omitempty"`
	Keys   map[string]Key      `json:"keys,omitempty"`   // values that are texts of their own
	Errors map[string]*Carried `json:"errors,omitempty"` // values that are errors
	List   []*Carried          `json:"list,omitempty"`   // errors beside each other
	Text   string              `json:"text,omitempty"`   // what has no key
}

// Carry takes an error along; nil is none.
func Carry(err error) *Carried {
	if err == nil {
		return nil
	}
	switch e := err.(type) {
	case *keyed:
		return carry(e.key, e.values)
	case coded:
		code, values := e.Coded()
		return carry("error."+code, values)
	case interface{ Unwrap() []error }:
		c := &Carried{}
		for _, one := range e.Unwrap() {
			c.List = append(c.List, Carry(one))
		}
		return c
	}
	if told := ofSystem(err); told != nil {
		return Carry(told)
	}
	if inner := errors.Unwrap(err); inner != nil {
		return Carry(inner)
	}
	return &Carried{Text: err.Error()}
}

func carry(key string, values Values) *Carried {
	c := &Carried{Key: key, Values: Values{}, Keys: map[string]Key{}, Errors: map[string]*Carried{}}
	for name, v := range values {
		switch x := v.(type) {
		case error:
			c.Errors[name] = Carry(x)
		case Key:
			c.Keys[name] = x
		default:
			c.Values[name] = v
		}
	}
	return c
}

// Err is the error as it was before; nil for none.
func (c *Carried) Err() error {
	switch {
	case c == nil:
		return nil
	case c.Key != "":
		v := Values{}
		for name, x := range c.Values {
			v[name] = x
		}
		for name, x := range c.Keys {
			v[name] = x
		}
		for name, x := range c.Errors {
			v[name] = x.Err()
		}
		return Fault(c.Key, v)
	case len(c.List) > 0:
		var all []error
		for _, x := range c.List {
			all = append(all, x.Err())
		}
		return errors.Join(all...)
	}
	return errors.New(c.Text)
}
