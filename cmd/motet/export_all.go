package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/motet-sheet/motet/cmd/motet/exchange"
	"github.com/motet-sheet/motet/lint/motion"
)

// manifestName is the file beside exported clips that tells of them.
const manifestName = "manifest.json"

// allTakes works out all members of a folder's family, or all its sheets where it has none, in the order of their files'
// names. What is wrong with one is told with its place, in a file that is called as shown calls it.
func allTakes(family *motion.Family, wish exchange.TakeWish, shown func(name string) string) ([]*exchange.Take, error) {
	if len(family.Unread) > 0 {
		return nil, fmt.Errorf("%s can't be read; `motet check` says why", family.Unread[0])
	}
	var takes []*exchange.Take
	files := map[string]string{}
	for i := range family.Members {
		member := &family.Members[i]
		if err := sound(member.Motion, shown); err != nil {
			return nil, err
		}
		take, err := exchange.NewTake(member.Motion, wish)
		if err != nil {
			return nil, err
		}
		if first, taken := files[take.Name]; taken {
			return nil, fmt.Errorf("the sheets in %s and %s are both called `%s`, and clips go by that name; rename one", first, member.Path, take.Name)
		}
		files[take.Name] = member.Path
		takes = append(takes, take)
	}
	return takes, nil
}

// family makes the files of all sheets of a folder: one each, or one with all clips of a rig; and the manifest.
func (f *exportFlags) family(takes []*exchange.Take) ([]output, error) {
	manifest := exchange.NewManifest(f.members.Person)
	var out []output
	folder := f.Out
	if strings.HasSuffix(strings.ToLower(f.Out), ".glb") {
		folder = filepath.Dir(f.Out)
		rigs := exchange.ByRig(takes)
		for _, one := range rigs {
			data, err := exchange.WriteGLB(one.Takes)
			if err != nil {
				return nil, err
			}
			path := f.Out
			if len(rigs) > 1 {
				stem := len(path) - len(".glb")
				path = path[:stem] + "-" + one.Name + path[stem:]
			}
			out = append(out, output{path: path, data: data})
			for _, take := range one.Takes {
				manifest.Add(take, filepath.Base(path), len(data))
			}
		}
		if len(rigs) > 1 {
			f.remarks = append(f.remarks, fmt.Sprintf("the sheets have %d rigs: each rig's clips are a file of their own, since a file holds one skeleton", len(rigs)))
		}
	} else {
		for _, take := range takes {
			data, err := exchange.WriteGLB([]*exchange.Take{take})
			if err != nil {
				return nil, err
			}
			name := take.Name + ".glb"
			if !filepath.IsLocal(name) || strings.ContainsAny(name, `/\`) {
				return nil, fmt.Errorf("the clip `%s` can't be the name of a file; rename the sheet", take.Name)
			}
			out = append(out, output{path: filepath.Join(f.Out, name), data: data})
			manifest.Add(take, name, len(data))
		}
	}
	text, err := manifest.Text()
	if err != nil {
		return nil, err
	}
	if err := os.MkdirAll(folder, 0o777); err != nil {
		return nil, fmt.Errorf("%s: the folder can't be made: %s", folder, plainIO(err))
	}
	return append(out, output{path: filepath.Join(folder, manifestName), data: text}), nil
}
