package lint

import (
	"path"

	"github.com/motet-sheet/motet/lint/motion"
)

// firstMember is the member that others are held to, nil for none: of those that can be judged and are fit, the first
// that is made from no other, or else the first of all.
func firstMember(f *motion.Family, fit func(m *motion.Member) bool) *motion.Member {
	var first *motion.Member
	for i := range f.Members {
		m := &f.Members[i]
		switch {
		case !certain(m.Motion) || !fit(m):
		case m.Motion.Base == nil:
			return m
		case first == nil:
			first = m
		}
	}
	return first
}

// isCycle tells whether a member loops.
func isCycle(m *motion.Member) bool { return m.Motion.Sheet.Closed }

// person is whose a member is and which clip it is. A member whose name does not fit the family's pattern stands for
// itself.
func person(f *motion.Family, m *motion.Member) (who, clip string) {
	if who, clip, ok := f.Person(m.Name); ok {
		return who, clip
	}
	return m.Name, ""
}

// called is a member's name, with its file where another member has the same name; all files are in one folder.
func called(f *motion.Family, m *motion.Member) string {
	for i := range f.Members {
		if other := &f.Members[i]; other.Path != m.Path && other.Name == m.Name {
			return m.Name + " (" + path.Base(m.Path) + ")"
		}
	}
	return m.Name
}

// opens is the line that opens a member's sheet, as a related place.
func opens(m *motion.Member) motion.Related {
	b := m.Motion.Sheet.Block
	return motion.Related{At: b.RefLine(b.Open), Message: m.Name}
}
