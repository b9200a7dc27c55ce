package fit

import (
	"errors"
	"math"
)

// Damper is the hardness of an exchangeable damper (elastomer) under a saddle.
type Damper string

// The dampers, softest first.
const (
	SoftDamper   Damper = "soft"
	MediumDamper Damper = "medium"
	FirmDamper   Damper = "firm"
)

// Dampers lists the dampers, softest first.
func Dampers() []Damper { return []Damper{SoftDamper, MediumDamper, FirmDamper} }

// DampingTable says which damper suits which rider's mass.
type DampingTable struct {
	SoftUpToKg float64 // soft up to and with this mass, kg
	FirmFromKg float64 // firm from this mass on, kg
	NearKg     float64 // within this distance of a border both dampers are named, kg
	Basis      string
}

// DefaultDamping is soft up to 54 kg and firm from 88 kg (common practice, no
// source). The 3 kg round a border are our assumption: about what clothing,
// shoes, a bag and a day's weight change add up to.
func DefaultDamping() DampingTable {
	return DampingTable{
		SoftUpToKg: 54, FirmFromKg: 88, NearKg: 3,
		Basis: "borders: common practice, no source; what counts as near: our assumption",
	}
}

// Validate reports everything that is wrong with the table.
func (d DampingTable) Validate() error {
	var errs []error
	check := func(name string, kg float64) {
		if !(kg > 0 && kg <= 400) {
			errs = append(errs, BadDampingMass.With("what", name, "kg", kg))
		}
	}
	check("soft_up_to_kg", d.SoftUpToKg)
	check("firm_from_kg", d.FirmFromKg)
	if !(d.NearKg >= 0 && d.NearKg <= 50) {
		errs = append(errs, BadNearKg.With("kg", d.NearKg))
	}
	if d.SoftUpToKg >= d.FirmFromKg {
		errs = append(errs, NoMediumDamper.With("soft", d.SoftUpToKg, "firm", d.FirmFromKg))
	}
	return errors.Join(errs...)
}

// DampingAdvice is the damper for a rider's mass.
type DampingAdvice struct {
	Damper Damper `json:"damper"`          // empty where the mass is not known
	Other  Damper `json:"other,omitempty"` // the neighbour, near a border
	Note   Note   `json:"note"`
}

// For gives the damper for a rider's mass in kg, and near a border the one
// beyond it too. A mass of 0 means "not known".
func (d DampingTable) For(massKg float64) DampingAdvice {
	if massKg == 0 {
		return DampingAdvice{Note: note("damping.mass_unknown")}
	}
	a := DampingAdvice{Damper: d.plain(massKg)}
	if border, other, near := d.neighbour(massKg); near {
		a.Other = other
		a.Note = note("damping.near", "damper", string(a.Damper), "other", string(other), "mass", massKg, "border",
			border)
		return a
	}
	a.Note = note("damping.by_mass", "damper", string(a.Damper), "mass", massKg)
	return a
}

func (d DampingTable) plain(massKg float64) Damper {
	switch {
	case massKg <= d.SoftUpToKg:
		return SoftDamper
	case massKg >= d.FirmFromKg:
		return FirmDamper
	}
	return MediumDamper
}

// neighbour finds the nearer border within NearKg and the damper beyond it.
func (d DampingTable) neighbour(massKg float64) (border float64, other Damper, near bool) {
	toSoft, toFirm := math.Abs(massKg-d.SoftUpToKg), math.Abs(massKg-d.FirmFromKg)
	border, inner, outer := d.SoftUpToKg, MediumDamper, SoftDamper
	if toFirm < toSoft {
		border, inner, outer = d.FirmFromKg, MediumDamper, FirmDamper
	}
	if math.Min(toSoft, toFirm) > d.NearKg {
		return 0, "", false
	}
	if d.plain(massKg) == inner {
		return border, outer, true
	}
	return border, inner, true
}
