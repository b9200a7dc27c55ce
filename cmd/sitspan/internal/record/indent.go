package record

import (
	"bytes"
	"encoding/json"
)

// listWidth is about how wide the lines are that a list of numbers is set in.
const listWidth = 100

// indented is a value's JSON with an indent, and lists of numbers in lines of
// their own: a relief has thousands of them.
func indented(v any) ([]byte, error) {
	data, err := json.MarshalIndent(v, "", "  ")
	if err != nil {
		return nil, err
	}
	out := make([]byte, 0, len(data))
	for len(data) > 0 {
		list, rest := numberList(data)
		if list == nil {
			out, data = append(out, data[0]), data[1:]
			continue
		}
		out, data = append(out, list...), rest
	}
	return out, nil
}

// numberList sets the list that data begins with anew, or returns nil where
// data does not begin with an indented list of numbers. A string cannot be
// mistaken for one, since no line ends in it.
func numberList(data []byte) (list, rest []byte) {
	if !bytes.HasPrefix(data, []byte("[\n")) {
		return nil, nil
	}
	list = []byte{'['}
	used := 0 // of the line
	for i, c := range data[1:] {
		switch {
		case c == ' ' || c == '\n':
			continue
		case bytes.IndexByte([]byte("]+-.,eE0123456789"), c) < 0:
			return nil, nil
		}
		list, used = append(list, c), used+1
		if c == ']' {
			return list, data[i+2:]
		}
		if c == ',' && used >= listWidth {
			list, used = append(list, '\n'), 0
		}
	}
	return nil, nil
}
