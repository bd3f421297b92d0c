package server

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/motet-sheet/motet/lint/motion/reference"
)

// metaModel is the protocol's own description of its messages, as far as it is needed to check an answer.
type metaModel struct {
	Requests []struct {
		Method string
		Params *modelType
		Result modelType
	}
	Notifications []struct {
		Method string
		Params *modelType
	}
	Structures []*struct {
		Name            string
		Properties      []modelProperty
		Extends, Mixins []modelType
	}
	Enumerations []*struct {
		Name                 string
		Values               []struct{ Value any }
		SupportsCustomValues bool
	}
	TypeAliases []*struct {
		Name string
		Type modelType
	}
}

type modelProperty struct {
	Name     string
	Type     modelType
	Optional bool
}

type modelType struct {
	Kind    string
	Name    string
	Element *modelType
	Items   []modelType
	Value   json.RawMessage // of a map its type, of a literal its value
}

// loadModel reads the meta-model of LSP 3.18 that the protocol package was generated from: metaModel.json of the branch
// release/protocol/3.18.0 of microsoft/vscode-languageserver-node, which that module carries with a note of its origin.
// (The npm package vscode-languageserver-protocol carries only the schema of the model.)
var loadModel = sync.OnceValues(func() (*metaModel, error) {
	dir, err := exec.Command("go", "list", "-m", "-f", "{{.Dir}}", "go.lsp.dev/protocol").Output()
	if err != nil {
		return nil, err
	}
	data, err := os.ReadFile(filepath.Join(strings.TrimSpace(string(dir)), "internal", "genlsp", "testdata", "metaModel.json"))
	if err != nil {
		return nil, err
	}
	var m metaModel
	return &m, json.Unmarshal(data, &m)
})

// model gives the meta-model; where the module's sources are not at hand the checks that need it are left out.
func model(t testing.TB) *metaModel {
	m, err := loadModel()
	if err == nil {
		return m
	}
	if reference.Required() {
		t.Fatalf("required, but no meta-model: %v", err)
	}
	t.Logf("answers are not checked against the meta-model: %v", err)
	return nil
}

// checkResult tells what is wrong with the answer to a request.
func (m *metaModel) checkResult(method string, raw json.RawMessage) error {
	for i := range m.Requests {
		if m.Requests[i].Method == method {
			return m.check(m.Requests[i].Result, raw)
		}
	}
	return fmt.Errorf("the protocol has no request %s", method)
}

// checkParams tells what is wrong with a message that the server sent of its own accord.
func (m *metaModel) checkParams(method string, raw json.RawMessage) error {
	for i := range m.Notifications {
		if n := &m.Notifications[i]; n.Method == method && n.Params != nil {
			return m.check(*n.Params, raw)
		}
	}
	for i := range m.Requests {
		if r := &m.Requests[i]; r.Method == method && r.Params != nil {
			return m.check(*r.Params, raw)
		} else if r.Method == method && raw == nil {
			return nil
		}
	}
	return fmt.Errorf("the protocol has no message %s with parameters", method)
}

func (m *metaModel) check(t modelType, raw json.RawMessage) error {
	var value any
	if err := json.Unmarshal(raw, &value); err != nil {
		return err
	}
	return m.fits(t, value, "")
}

// fits tells why a value is not of a type, and where in it.
func (m *metaModel) fits(t modelType, value any, path string) error {
	wrong := func() error { return fmt.Errorf("%s: %v is no %s %s", path, value, t.Kind, t.Name) }
	switch t.Kind {
	case "base":
		if !fitsBase(t.Name, value) {
			return wrong()
		}
		return nil
	case "reference":
		return m.fitsNamed(t.Name, value, path)
	case "array":
		list, ok := value.([]any)
		if !ok {
			return wrong()
		}
		for i, v := range list {
			if err := m.fits(*t.Element, v, fmt.Sprintf("%s[%d]", path, i)); err != nil {
				return err
			}
		}
		return nil
	case "tuple":
		list, ok := value.([]any)
		if !ok || len(list) != len(t.Items) {
			return wrong()
		}
		for i, v := range list {
			if err := m.fits(t.Items[i], v, fmt.Sprintf("%s[%d]", path, i)); err != nil {
				return err
			}
		}
		return nil
	case "or":
		var errs []string
		for _, item := range t.Items {
			err := m.fits(item, value, path)
			if err == nil {
				return nil
			}
			errs = append(errs, err.Error())
		}
		return fmt.Errorf("%s fits none of: %s", path, strings.Join(errs, " | "))
	case "and":
		for _, item := range t.Items {
			if err := m.fits(item, value, path); err != nil {
				return err
			}
		}
		return nil
	case "stringLiteral":
		if text, _ := json.Marshal(value); string(text) != string(t.Value) {
			return wrong()
		}
		return nil
	case "map":
		var of modelType
		object, ok := value.(map[string]any)
		if err := json.Unmarshal(t.Value, &of); err != nil || !ok {
			return wrong()
		}
		for k, v := range object {
			if err := m.fits(of, v, path+"."+k); err != nil {
				return err
			}
		}
		return nil
	}
	return fmt.Errorf("%s: the test knows no type of kind %s", path, t.Kind)
}

func fitsBase(name string, value any) bool {
	number, isNumber := value.(float64)
	_, isString := value.(string)
	_, isBool := value.(bool)
	switch name {
	case "string", "URI", "DocumentUri", "RegExp":
		return isString
	case "integer":
		return isNumber && number == math.Trunc(number) && math.Abs(number) <= 1<<31
	case "uinteger":
		return isNumber && number == math.Trunc(number) && 0 <= number && number < 1<<31
	case "decimal":
		return isNumber
	case "boolean":
		return isBool
	case "null":
		return value == nil
	}
	return false
}

func (m *metaModel) fitsNamed(name string, value any, path string) error {
	if strings.HasPrefix(name, "LSP") {
		return nil // LSPAny, LSPObject and LSPArray are any JSON
	}
	for _, e := range m.Enumerations {
		if e.Name != name {
			continue
		}
		for _, v := range e.Values {
			if v.Value == value {
				return nil
			}
		}
		if _, isString := value.(string); e.SupportsCustomValues && isString {
			return nil
		}
		return fmt.Errorf("%s: %v is no %s", path, value, name)
	}
	for _, a := range m.TypeAliases {
		if a.Name == name {
			return m.fits(a.Type, value, path)
		}
	}
	object, ok := value.(map[string]any)
	properties, known := m.properties(name)
	if !ok || !known {
		return fmt.Errorf("%s: %v is no %s", path, value, name)
	}
	for _, p := range properties {
		v, present := object[p.Name]
		if !present && !p.Optional {
			return fmt.Errorf("%s: %s lacks %s", path, name, p.Name)
		}
		if present {
			if err := m.fits(p.Type, v, path+"."+p.Name); err != nil {
				return err
			}
		}
	}
	for key := range object {
		if !slices.ContainsFunc(properties, func(p modelProperty) bool { return p.Name == key }) {
			return fmt.Errorf("%s: %s has no %s", path, name, key)
		}
	}
	return nil
}

// properties are those of a structure and of all that it takes over from others.
func (m *metaModel) properties(name string) (all []modelProperty, known bool) {
	for _, s := range m.Structures {
		if s.Name != name {
			continue
		}
		all = slices.Clone(s.Properties)
		for _, other := range slices.Concat(s.Extends, s.Mixins) {
			inherited, ok := m.properties(other.Name)
			if !ok {
				return nil, false
			}
			all = append(all, inherited...)
		}
		return all, true
	}
	return nil, false
}

// A checker that accepts everything would hide every fault of the server.
func TestTheMetaModelRefusesWrongAnswers(t *testing.T) {
	m := model(t)
	if m == nil {
		reference.Lacks(t, "the protocol module's sources are not at hand")
	}
	place := `{"start":{"line":0,"character":0},"end":{"line":0,"character":2}}`
	for _, row := range []struct {
		method, answer string
		good           bool
	}{
		{"textDocument/hover", `null`, true},
		{"textDocument/hover", `{"contents":{"kind":"markdown","value":"x"},"range":` + place + `}`, true},
		{"textDocument/hover", `{"contents":{"kind":"html","value":"x"}}`, false},
		{"textDocument/hover", `{"range":` + place + `}`, false},
		{"textDocument/hover", `{"contents":"x","colour":"red"}`, false},
		{"textDocument/formatting", `[{"range":` + place + `,"newText":""}]`, true},
		{"textDocument/formatting", `[{"range":{"start":{"line":-1,"character":0},"end":{"line":0,"character":0}},"newText":""}]`, false},
		{"textDocument/formatting", `[{"range":{"start":{"line":0.5,"character":0},"end":{"line":1,"character":0}},"newText":""}]`, false},
		{"textDocument/diagnostic", `{"kind":"full","items":[]}`, true},
		{"textDocument/diagnostic", `{"kind":"unchanged","resultId":"a"}`, true},
		{"textDocument/diagnostic", `{"kind":"unchanged"}`, false},
		{"textDocument/diagnostic", `null`, false},
		{"textDocument/hovers", `null`, false},
	} {
		err := m.checkResult(row.method, json.RawMessage(row.answer))
		if (err == nil) != row.good {
			t.Errorf("%s %s: %v", row.method, row.answer, err)
		}
	}
}
