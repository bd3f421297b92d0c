package lint

func unknownName() *Rule {
	return &Rule{
		Name: "unknown-name", Group: TextGroup, Level: Error,
		Doc: Doc{
			Reports: "A rig, control, channel, pose, layer, easing, sheet or file that is not there.",
			Why:     "What is named wrongly moves nothing, and the eye finds out last.",
			Decides: "Names are compared letter by letter, in Unicode's NFC. The nearest name that is there is offered when it is at most two slips of the hand away.",
			Allow:   "Never.",
			Mends:   "Writes the nearest name. Two poses are often one letter apart, so --fix leaves the guess to the animator.",
			Bad:     "track hips\n  at      sied\n  0b      2\n",
			Good:    "track hips\n  at      side\n  0b      2\n",
		},
		Check: reportProblems,
	}
}
