package lint

func partCycle() *Rule {
	return &Rule{
		Name: "part-cycle", Group: TextGroup, Level: Error,
		Doc: Doc{
			Reports: "An `every` that does not fit into the sheet's length a whole number of times.",
			Why:     "The last round would be cut off in the middle, and the loop would jump there.",
			Decides: "The length divided by the period, exactly; anything but a whole number is reported. The nearest periods that fit are offered.",
			Allow:   "Never.",
			Mends:   "Writes the nearest longer or shorter period that fits. Which of the two is the animator's choice, so --fix leaves it.",
			Bad:     "track head every 3b\n  at      nod\n  0b      2\n  1b      5\n",
			Good:    "track head every 2b\n  at      nod\n  0b      2\n  1b      5\n",
		},
		Check: reportProblems,
	}
}
