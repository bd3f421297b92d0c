package lint

func ring() *Rule {
	return &Rule{
		Name: "ring", Group: TextGroup, Level: Error,
		Doc: Doc{
			Reports: "Poses or sheets that are made from one another in a circle, and followers that lead back to themselves, spelled out.",
			Why:     "None of them has a first value, so none of them can be worked out.",
			Decides: "`mirrors OTHER` and `from OTHER` are followed from name to name, and followers from channel to channel, until they end or come back.",
			Allow:   "Never.",
			Bad:     "pose low from lower\n  hips/drop         -2\n\npose lower from low\n  hips/drop         -3\n\nblocking\n  at      pose\n  0b      low\n",
			Good:    "pose low\n  hips/drop         -2\n\npose lower from low\n  hips/drop         -3\n\nblocking\n  at      pose\n  0b      low\n  2b      lower\n  4b      low\n",
		},
		Check: reportProblems,
	}
}
