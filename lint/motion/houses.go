package motion

import (
	"path"

	"github.com/motet-sheet/motet/grammar"
)

// HouseFile is the name of a file whose house rules hold for its folder and all below it.
const HouseFile = "house.motet"

// findHouses finds the house rules that hold for the file: its own, then those of the house files of its folder and of
// each one above, up to the project's root. The nearest come first.
func (r *resolver) findHouses() {
	own := path.Base(r.File.Path) == HouseFile
	for _, b := range r.File.Blocks {
		if b.Kind == grammar.HouseBlock {
			r.Houses = append(r.Houses, b)
		}
	}
	for folder := path.Dir(r.File.Path); ; folder = path.Dir(folder) {
		if file, err := r.project.trees(path.Join(folder, HouseFile)); err == nil && file != nil && !(own && file.Path == r.File.Path) {
			for _, b := range file.Blocks {
				if b.Kind == grammar.HouseBlock {
					r.Houses = append(r.Houses, b)
					r.link(file)
				}
			}
		}
		if folder == "." || folder == "/" {
			return
		}
	}
}
