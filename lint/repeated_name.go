package lint

func repeatedName() *Rule {
	return &Rule{
		Name: "repeated-name", Group: TextGroup, Level: Error,
		Doc: Doc{
			Reports: "A second pose, layer, easing, rig or sheet of one name, a second track of one control in one layer, or a line that may stand once and stands twice.",
			Why:     "Only one of the two can count, and whoever edits the other one sees nothing move.",
			Decides: "Names are compared letter by letter, in Unicode's NFC. A sheet's own pose may have the name of a pose of its rig: it then stands in for that one.",
			Allow:   "Never.",
			Bad:     "pose low\n  hips/drop         -2\n\npose low\n  hips/drop         -3\n\nblocking\n  at      pose\n  0b      low\n",
			Good:    "pose low\n  hips/drop         -2\n\npose lower\n  hips/drop         -3\n\nblocking\n  at      pose\n  0b      low\n  2b      lower\n  4b      low\n",
		},
		Check: reportProblems,
	}
}
