package imprint

import (
	"context"
	"errors"
	"slices"
	"sync"

	"sitspan/calibration"
	"sitspan/imprint/codes"
	"sitspan/imprint/homography"
	"sitspan/imprint/judge"
	"sitspan/imprint/photo"
	"sitspan/imprint/spacing"
	"sitspan/imprint/stages"
)

// MeasureTogether solves several photos of one imprint as one: each has its own light and pose, the two
// bottoms are shared. Seen from different places the lines of sight also give the depths. A photo that
// contradicts the others is dropped.
func (t *Meter) MeasureTogether(
	ctx context.Context,
	photos []*photo.Photo,
	s Settings,
) (*Measurement, error) {
	if len(photos) == 0 {
		return nil, errors.New("no photo was given")
	}
	if len(photos) == 1 {
		return t.Measure(ctx, photos[0], s)
	}
	all, err := t.lookAtAll(ctx, photos, s)
	if err != nil {
		return nil, err
	}
	leaveCopies(all)
	// The nets read on one core while the other works the surface out, most of which is one thing after another.
	// Dots were found before, on all cores.
	read := make(chan error, 1)
	go func() { read <- readAll(all, s, (*sight).hopeless) }()
	end := stages.Begin(ctx, stages.Geometry)
	surface := surfaceOf(all)
	end()
	if err := <-read; err != nil {
		return nil, err
	}
	if surface.err != nil { // what the nets read is all that there is
		if err := readAll(all, s, func(*sight) bool { return false }); err != nil {
			return nil, err
		}
	}
	m, ok, err := surface.measure(all, s)
	defer stages.Begin(ctx, stages.Conclude)()
	if ok || err != nil {
		m.compareWithNet(all, s)
		surface.tellAlone()
		return m, err
	}
	return combine(all, s, t.readTogether)
}

// atOnce is how many photos are looked at side by side, on however many cores: of three on two cores the
// third would wait for a round of its own.
const atOnce = 4

// readAll reads the centres that are still unread, one photo after the other, and concludes each photo by
// itself. It leaves the rest as they are where the first that was read tells that nothing is to be hoped for.
func readAll(all []*sight, s Settings, hopeless func(*sight) bool) error {
	var failed []error
	begun := false
	for _, v := range all {
		first := !begun && v.unread != nil
		if !v.concluded {
			failed = append(failed, v.readNow())
			v.conclude(s)
			v.concluded = true
		}
		if first && hopeless(v) {
			break
		}
		begun = begun || first
	}
	return errors.Join(failed...)
}

// hopeless tells that the nets make so little of a photo that other photos of its imprint would not help:
// they see no two dents, or place them too loosely.
func (v *sight) hopeless() bool {
	if v.m.Spacing == nil {
		return true
	}
	_, k := v.m.Expanded()
	return k*v.m.centresU() > judge.HopelessReading.Value
}

// lookAtAll looks at each photo by itself, several at a time. Foam's dots it finds, and leaves the centres to
// readAll; ink has no surface to work out meanwhile, and takes longer.
func (t *Meter) lookAtAll(ctx context.Context, photos []*photo.Photo, s Settings) ([]*sight, error) {
	all, failed := make([]*sight, len(photos)), make([]error, len(photos))
	var group sync.WaitGroup
	slots := make(chan struct{}, atOnce)
	for i, p := range photos {
		slots <- struct{}{}
		group.Go(func() {
			defer func() { <-slots }()
			v, err := t.lookBefore(ctx, p, s)
			switch {
			case err != nil:
			case v.m.Medium == calibration.Paper:
				err = v.readNow()
			default:
				end := stages.Begin(ctx, stages.Geometry)
				v.findDots()
				end()
			}
			all[i], failed[i] = v, err
		})
	}
	group.Wait()
	return all, errors.Join(failed...)
}

// combine solves the usable sights together, dropping at most one that contradicts the rest. What is left,
// where it agrees, is read once more by reread, all as one, now that it is known to belong to one imprint.
func combine(all []*sight, s Settings, reread func([]*sight) ([]*sight, error)) (*Measurement, error) {
	used, medium := usable(all)
	m := &Measurement{Verdict: judge.Verdict{Status: Measured}, Medium: medium}
	for _, v := range all {
		m.Parts = append(
			m.Parts,
			Part{Measurement: v.m, Used: slices.Contains(used, v), Why: whyNot(v, used)},
		)
	}
	if len(used) == 0 {
		m.copyRefusal(all[0].m)
		return m, nil
	}
	of := s.imprint(used[0])
	solved, err := spacing.Solve(views(used), of)
	if len(used) > 2 {
		if odd, rest := solved.Odd(); odd >= 0 {
			m.drop(all, used[odd], rest)
			used, solved, err = slices.Delete(slices.Clone(used), odd, odd+1), rest, nil
		}
	}
	if err != nil {
		m.refuse(codes.PhotosNotOne.With(err.Error()))
		return m, nil
	}
	if solved.Consistent() {
		read, err := reread(used)
		if err != nil {
			return nil, err
		}
		if again, err := spacing.Solve(views(read), of); err == nil {
			again.Alone, again.Together = solved.Alone, read[0].together
			used, solved = read, again
		}
	}
	joint{solved, used}.report(m, all)
	if otherPads(all, used) {
		m.Review(codes.PhotosOfOtherPads.With(len(used), len(all)))
	}
	return m, nil
}

// otherPads tells photos of more than one pad, which are of more than one imprint: dotted ones among those of
// a plain pad, or one photo beside those of another medium. Two of a medium outvote one of another.
func otherPads(all, used []*sight) bool {
	return slices.ContainsFunc(all, func(o *sight) bool {
		return o.leftOut || len(used) == 1 && o.read && o.m.Left != nil && o.m.Medium != used[0].m.Medium
	})
}

// imprint is what all photos share, as package spacing takes it.
func (s Settings) imprint(first *sight) spacing.Imprint {
	return spacing.Imprint{
		Deep:  first.m.Medium == calibration.Foam,
		Gauge: s.gauge(),
		Pad:   s.pad(first.m.Medium),
		Print: first.m.printOf(s),
	}
}

func views(used []*sight) []spacing.View {
	list := make([]spacing.View, len(used))
	for i, v := range used {
		list[i] = v.view()
	}
	return list
}

func (v *sight) view() spacing.View { return spacing.View{Camera: v.camera(), Reading: v.seenByNow()} }

func usable(all []*sight) (used []*sight, medium calibration.Medium) {
	for _, v := range all {
		if v.read && v.m.Left != nil && !v.again {
			if medium == "" {
				medium = v.m.Medium
			}
			if v.m.Medium == medium {
				used = append(used, v)
			}
		}
	}
	return used, medium
}

func whyNot(v *sight, used []*sight) (why codes.Said) {
	switch {
	case slices.Contains(used, v):
		return why
	case v.again:
		return codes.SamePicture.With()
	case len(v.m.Reasons) > 0:
		return codes.NotUsable.With(v.m.Reasons[0])
	}
	return codes.OtherMedium.With()
}

// copyRefusal says of a set what its first photo says.
func (m *Measurement) copyRefusal(of *Measurement) {
	m.Status, m.Reasons, m.Marks = Refused, of.Reasons, of.Marks
}

func (m *Measurement) drop(all []*sight, odd *sight, rest spacing.Joint) {
	i := slices.Index(all, odd)
	m.Parts[i].Used, m.Parts[i].Why = false, codes.OtherImprint.With(rest.Agreement(odd.view()))
}

func (v *sight) camera() *homography.Camera {
	switch {
	case v.m.Plane != nil:
		return v.m.Plane.Camera
	case v.m.Reference != nil:
		return v.m.Reference.Camera
	}
	return nil
}
