package exchange

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strconv"
)

// A rawObject is a JSON object whose members keep their order and their bytes, so that what is not meant to change does
// not: unknown members, long numbers, spelling and all.
type rawObject struct {
	names  []string
	values map[string]json.RawMessage
}

// readObject splits an object into its members. One that names a member twice is refused, since readers differ on what
// that means.
func readObject(text []byte) (*rawObject, error) {
	in := json.NewDecoder(bytes.NewReader(text))
	in.UseNumber()
	start, err := in.Token()
	if err != nil {
		return nil, unreadable(err)
	}
	if start != json.Delim('{') {
		return nil, fmt.Errorf("the JSON holds no object where one must stand; export the file again")
	}
	o := &rawObject{values: map[string]json.RawMessage{}}
	for in.More() {
		token, err := in.Token()
		if err != nil {
			return nil, unreadable(err)
		}
		name, _ := token.(string)
		if _, twice := o.values[name]; twice {
			return nil, fmt.Errorf("the JSON has the member %q twice in one object; export the file again", clip(name, 40))
		}
		var value json.RawMessage
		if err := in.Decode(&value); err != nil {
			return nil, unreadable(err)
		}
		o.names, o.values[name] = append(o.names, name), value
	}
	return o, nil
}

// set gives a member a value, behind the others if it is new.
func (o *rawObject) set(name string, value json.RawMessage) {
	if _, has := o.values[name]; !has {
		o.names = append(o.names, name)
	}
	o.values[name] = value
}

func (o *rawObject) drop(name string) {
	delete(o.values, name)
	for i, n := range o.names {
		if n == name {
			o.names = append(o.names[:i:i], o.names[i+1:]...)
			return
		}
	}
}

// list is a member's elements; none where the member is missing.
func (o *rawObject) list(name string) ([]json.RawMessage, error) {
	var out []json.RawMessage
	if value, has := o.values[name]; has {
		if err := json.Unmarshal(value, &out); err != nil {
			return nil, fmt.Errorf("%s: %w", name, unreadable(err))
		}
	}
	return out, nil
}

// setList writes a member's elements, each with the bytes that it has; one that would be empty is left out, as glTF
// wants it.
func (o *rawObject) setList(name string, list []json.RawMessage) {
	if len(list) == 0 {
		o.drop(name)
		return
	}
	out := []byte{'['}
	for i, element := range list {
		if i > 0 {
			out = append(out, ',')
		}
		out = append(out, element...)
	}
	o.set(name, append(out, ']'))
}

func (o *rawObject) text() []byte {
	out := []byte{'{'}
	for i, name := range o.names {
		if i > 0 {
			out = append(out, ',')
		}
		quoted, _ := json.Marshal(name) // a string always can be
		out = append(out, quoted...)
		out = append(out, ':')
		out = append(out, o.values[name]...)
	}
	return append(out, '}')
}

// appendTo adds values to a list of the object.
func appendTo[T any](o *rawObject, name string, values []T) error {
	list, err := o.list(name)
	if err != nil {
		return err
	}
	for _, v := range values {
		text, err := json.Marshal(v)
		if err != nil {
			return fmt.Errorf("writing %s: %w", name, err)
		}
		list = append(list, text)
	}
	o.setList(name, list)
	return nil
}

// largestInExtensions is the largest whole number anywhere in an "extensions" member, which may be the index of anything.
func largestInExtensions(text []byte) int {
	var whole any
	if json.Unmarshal(text, &whole) != nil {
		return maxIndex
	}
	largest := -1
	var walk func(value any, inside bool)
	walk = func(value any, inside bool) {
		switch v := value.(type) {
		case map[string]any:
			for name, member := range v {
				walk(member, inside || name == "extensions")
			}
		case []any:
			for _, element := range v {
				walk(element, inside)
			}
		case float64:
			if inside && v == float64(int(v)) {
				largest = max(largest, int(v))
			}
		case string:
			if n, err := strconv.Atoi(v); inside && err == nil {
				largest = max(largest, n)
			}
		}
	}
	walk(whole, false)
	return largest
}

const maxIndex = int(^uint(0) >> 1)
