package net

import (
	"encoding/binary"
	"fmt"
	"math"
	"slices"
)

// operation is what a step does.
type operation int

const (
	convolve operation = iota
	sigmoid
	add
	multiply
	scale
	halve
	mean
	enlarge
	join
)

// step is one operation on one photo's values.
type step struct {
	op       operation
	in       [2]int // values; -1 for none
	out      int
	by, bias *weights
	silu     bool
	factor   float32
	first    int // join: where the second's channels begin
}

// value is what a step makes: channels, rows, columns; slot is the memory that it lies in.
type value struct{ c, h, w, slot int }

// plan is a net's steps.
type plan struct {
	steps   []step
	values  []value
	in, out []int // values, one a photo
	slots   []value
}

// planner turns a graph into a plan. A name stands for one value a photo.
type planner struct {
	plan
	weights map[string]*weights
	named   map[string][]int
	numbers map[string][]float64 // constants
	sigmas  map[string]string    // Sigmoid's output by its input, as long as nobody needs it
	uses    map[string]int
	made    map[step]int // which value a step made: photos that share a value share what is made of it
}

func bad(n node, why string) error { return fmt.Errorf("%w: %s %v: %s", ErrModel, n.op, n.out, why) }

func newPlan(graph []node, weights map[string]*weights, input [4]int) (*plan, error) {
	p := &planner{weights: weights, named: map[string][]int{}, numbers: map[string][]float64{},
		sigmas: map[string]string{}, uses: map[string]int{}, made: map[step]int{}}
	if len(graph) == 0 {
		return nil, fmt.Errorf("%w: it has no operations", ErrModel)
	}
	for _, n := range graph {
		for _, name := range n.in {
			p.uses[name]++
		}
	}
	first := ""
	for _, n := range graph {
		if len(n.out) != 1 {
			return nil, bad(n, "not one output")
		}
		if first == "" && len(n.in) > 0 { // the graph's input is what its first operation takes
			first = n.in[0]
			for range input[0] {
				p.in = append(p.in, p.value(input[1], input[2], input[3]))
			}
			p.named[first] = p.in
		}
		if err := p.add(n); err != nil {
			return nil, err
		}
	}
	var err error
	last := graph[len(graph)-1]
	if p.out, err = p.get(last, last.out[0]); err != nil {
		return nil, err
	}
	p.assign()
	return &p.plan, nil
}

func (p *planner) value(c, h, w int) int {
	p.values = append(p.values, value{c: c, h: h, w: w})
	return len(p.values) - 1
}

// get are a name's values; a Sigmoid that was put off is worked out.
func (p *planner) get(n node, name string) ([]int, error) {
	if of, late := p.sigmas[name]; late {
		delete(p.sigmas, name)
		p.named[name] = p.each(p.named[of], func(a int) int {
			v := p.values[a]
			return p.do(step{op: sigmoid, in: [2]int{a, -1}}, v.c, v.h, v.w)
		})
	}
	list, known := p.named[name]
	if !known {
		return nil, bad(n, "an unknown input")
	}
	return list, nil
}

func (p *planner) each(list []int, f func(int) int) []int {
	out := make([]int, len(list))
	for i, a := range list {
		out[i] = f(a)
	}
	return out
}

// do adds a step, or finds the value that the same step has made before.
func (p *planner) do(s step, c, h, w int) int {
	if out, before := p.made[s]; before {
		return out
	}
	key := s
	s.out = p.value(c, h, w)
	p.made[key] = s.out
	p.steps = append(p.steps, s)
	return s.out
}

func (p *planner) add(n node) (err error) {
	if n.op == "Constant" {
		p.numbers[n.out[0]], err = numbersOf(n)
		return err
	}
	if len(n.in) == 0 {
		return bad(n, "no input")
	}
	if n.op == "Sigmoid" {
		if _, known := p.named[n.in[0]]; !known {
			return bad(n, "an unknown input")
		}
		p.sigmas[n.out[0]] = n.in[0]
		return nil
	}
	out, err := p.make(n)
	p.named[n.out[0]] = out
	return err
}

// make are the values that a node makes.
func (p *planner) make(n node) ([]int, error) {
	switch n.op {
	case "Mul":
		if len(n.in) == 2 && p.sigmas[n.in[1]] == n.in[0] && p.fuse(n.in[0]) {
			delete(p.sigmas, n.in[1])
			return p.named[n.in[0]], nil
		}
		return p.pairs(n, multiply)
	case "Add":
		return p.pairs(n, add)
	case "Div":
		return p.divided(n)
	case "Concat":
		return p.joined(n)
	}
	in, err := p.get(n, n.in[0])
	if err != nil {
		return nil, err
	}
	switch n.op {
	case "Conv":
		return p.convolved(n, in)
	case "AveragePool":
		if !slices.Equal(n.ints["kernel_shape"], []int64{2, 2}) || !slices.Equal(n.ints["strides"], []int64{2, 2}) {
			return nil, bad(n, "not of 2 x 2 cells")
		}
		return p.sized(n, in, halve, func(v value) (h, w int) { return v.h / 2, v.w / 2 })
	case "GlobalAveragePool":
		return p.sized(n, in, mean, func(value) (h, w int) { return 1, 1 })
	case "Resize":
		by := p.numbers[n.in[len(n.in)-1]]
		if !slices.Equal(by, []float64{1, 1, 2, 2}) || n.words["mode"] != "linear" ||
			n.words["coordinate_transformation_mode"] != "half_pixel" {
			return nil, bad(n, "not twice as large, linearly between the centres")
		}
		return p.sized(n, in, enlarge, func(v value) (h, w int) { return 2 * v.h, 2 * v.w })
	case "Slice":
		return p.sliced(n, in)
	}
	return nil, bad(n, "an unknown operation")
}

// fuse takes x / (1 + exp -x) into the convolution that made a value, if only that and its Sigmoid use it.
func (p *planner) fuse(name string) bool {
	if p.uses[name] != 2 {
		return false
	}
	for _, out := range p.named[name] {
		i := slices.IndexFunc(p.steps, func(s step) bool { return s.out == out })
		if i < 0 || p.steps[i].op != convolve {
			return false
		}
		key := p.steps[i]
		key.out = 0
		delete(p.made, key)
		p.steps[i].silu = true
	}
	return true
}

func (p *planner) convolved(n node, in []int) ([]int, error) {
	s := step{op: convolve}
	if len(n.in) < 2 || p.weights[n.in[1]] == nil {
		return nil, bad(n, "no weights")
	}
	s.by = p.weights[n.in[1]]
	if len(n.in) > 2 {
		if s.bias = p.weights[n.in[2]]; s.bias == nil || s.bias.outputs != s.by.outputs || s.bias.inputs != 1 {
			return nil, bad(n, "no bias of its size")
		}
	}
	rim := int64(s.by.window / 2)
	for name, want := range map[string][]int64{"pads": {rim, rim, rim, rim}, "strides": {1, 1},
		"dilations": {1, 1}, "group": {1}} {
		if got := n.ints[name]; got != nil && !slices.Equal(got, want) {
			return nil, bad(n, "its "+name)
		}
	}
	for _, a := range in {
		if p.values[a].c != s.by.inputs {
			return nil, bad(n, "channels")
		}
	}
	return p.each(in, func(a int) int {
		s.in = [2]int{a, -1}
		return p.do(s, s.by.outputs, p.values[a].h, p.values[a].w)
	}), nil
}

// sized are values of another number of rows and columns.
func (p *planner) sized(n node, in []int, op operation, size func(value) (h, w int)) ([]int, error) {
	for _, a := range in {
		if v := p.values[a]; op == halve && (v.h%2 != 0 || v.w%2 != 0) || v.h > 1<<14 || v.w > 1<<14 {
			return nil, bad(n, "its size")
		}
	}
	return p.each(in, func(a int) int {
		h, w := size(p.values[a])
		return p.do(step{op: op, in: [2]int{a, -1}}, p.values[a].c, h, w)
	}), nil
}

// pairs are sums or products, photo by photo, of values of one size; a factor may be of one cell.
func (p *planner) pairs(n node, op operation) ([]int, error) {
	if len(n.in) != 2 {
		return nil, bad(n, "not two inputs")
	}
	a, err := p.get(n, n.in[0])
	if err != nil {
		return nil, err
	}
	b, err := p.get(n, n.in[1])
	if err != nil {
		return nil, err
	}
	if len(a) != len(b) {
		return nil, bad(n, "photos")
	}
	out := make([]int, len(a))
	for i := range a {
		u, v := p.values[a[i]], p.values[b[i]]
		one := op == multiply && v.h == 1 && v.w == 1
		if u.c != v.c || !one && (u.h != v.h || u.w != v.w) {
			return nil, bad(n, "sizes")
		}
		out[i] = p.do(step{op: op, in: [2]int{a[i], b[i]}}, u.c, u.h, u.w)
	}
	return out, nil
}

func (p *planner) divided(n node) ([]int, error) {
	by := p.numbers[n.in[len(n.in)-1]]
	if len(n.in) != 2 || len(by) != 1 || by[0] == 0 {
		return nil, bad(n, "not by a number")
	}
	a, err := p.get(n, n.in[0])
	return p.each(a, func(a int) int {
		v := p.values[a]
		return p.do(step{op: scale, in: [2]int{a, -1}, factor: float32(1 / by[0])}, v.c, v.h, v.w)
	}), err
}

// joined puts photos side by side (axis 0), or two values' channels one after the other.
func (p *planner) joined(n node) ([]int, error) {
	var all [][]int
	for _, name := range n.in {
		list, err := p.get(n, name)
		if err != nil {
			return nil, err
		}
		all = append(all, list)
	}
	axis := n.ints["axis"]
	switch {
	case slices.Equal(axis, []int64{0}):
		return slices.Concat(all...), nil
	case !slices.Equal(axis, []int64{1}) || len(all) != 2 || len(all[0]) != len(all[1]):
		return nil, bad(n, "its axis")
	}
	out := make([]int, len(all[0]))
	for i, a := range all[0] {
		b := all[1][i]
		u, v := p.values[a], p.values[b]
		if u.h != v.h || u.w != v.w {
			return nil, bad(n, "sizes")
		}
		s := step{op: join, in: [2]int{a, b}, first: u.c}
		if last := len(p.steps) - 1; p.uses[n.in[0]] == 1 && last >= 0 && p.steps[last].op == enlarge &&
			p.steps[last].out == a { // straight to its place
			s.op, s.in[0] = enlarge, p.steps[last].in[0]
			before := p.steps[last]
			before.out = 0
			delete(p.made, before)
			p.steps = p.steps[:last]
		}
		out[i] = p.do(s, u.c+v.c, u.h, u.w)
	}
	return out, nil
}

// sliced takes some of the photos.
func (p *planner) sliced(n node, in []int) ([]int, error) {
	if len(n.in) != 5 {
		return nil, bad(n, "not five inputs")
	}
	var at [4]int // from, to, axis, step
	for i := range at {
		v := p.numbers[n.in[i+1]]
		if len(v) != 1 {
			return nil, bad(n, "not one number each")
		}
		at[i] = int(v[0])
	}
	if at[0] < 0 || at[1] <= at[0] || at[1] > len(in) || at[2] != 0 || at[3] != 1 {
		return nil, bad(n, "not some photos")
	}
	return in[at[0]:at[1]], nil
}

// numbersOf are a constant's.
func numbersOf(n node) (list []float64, err error) {
	if n.value == nil {
		return nil, bad(n, "no value")
	}
	raw := n.value.raw
	switch {
	case n.value.kind == integers && len(raw)%8 == 0:
		for ; len(raw) > 0; raw = raw[8:] {
			list = append(list, float64(int64(binary.LittleEndian.Uint64(raw))))
		}
	case n.value.kind == floats && len(raw)%4 == 0:
		for ; len(raw) > 0; raw = raw[4:] {
			list = append(list, float64(math.Float32frombits(binary.LittleEndian.Uint32(raw))))
		}
	default:
		return nil, bad(n, "a value of an unknown kind")
	}
	return list, nil
}

// inPlace tells whether a step may write over its first input.
func (s step) inPlace() bool {
	return s.op == sigmoid || s.op == add || s.op == multiply || s.op == scale
}

// assign gives each value a slot of memory that no later value of another size ever takes, since its rim
// stays zero, and that is free again after its last use.
func (p *planner) assign() {
	last := make([]int, len(p.values))
	for i, s := range p.steps {
		for _, a := range s.in {
			if a >= 0 {
				last[a] = i
			}
		}
	}
	for _, out := range p.out {
		last[out] = len(p.steps)
	}
	free := map[value][]int{}
	place := func(i int) {
		v := &p.values[i]
		if list := free[*v]; len(list) > 0 {
			key := *v
			v.slot, free[key] = list[len(list)-1], list[:len(list)-1]
			return
		}
		p.slots = append(p.slots, *v)
		v.slot = len(p.slots) - 1
	}
	for _, in := range p.in {
		place(in)
	}
	for i, s := range p.steps {
		if s.inPlace() && last[s.in[0]] == i && !slices.Contains(p.in, s.in[0]) {
			p.values[s.out].slot = p.values[s.in[0]].slot
			last[s.in[0]] = -1 // its memory lives on
		} else {
			place(s.out)
		}
		for k, a := range s.in {
			if a >= 0 && last[a] == i && (k == 0 || a != s.in[0]) {
				key := p.values[a]
				slot := key.slot
				key.slot = 0
				free[key] = append(free[key], slot)
			}
		}
	}
}
