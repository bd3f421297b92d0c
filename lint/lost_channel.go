package lint

func lostChannel() *Rule {
	return &Rule{
		Name: "lost-channel", Group: CastGroup, Level: Warning,
		Doc: Doc{
			Reports: "What a variant loses because its rig lacks a channel that its base moves.",
			Why:     "The figure leaves out part of what the base does, and nothing in the variant's text shows it.",
			Decides: "Each channel that the base's blocks move is looked up in the variant's rig by its path. All that are missing are said once, on the `from` line.",
			Allow:   "When the figure has no such part: a hook for a hand, a long coat over the knees.",
			Bad:     "sheet example\n  from      shore in \"shore.motet\"\n  rig       small in \"small.motet\"\n",
			Good:    "sheet example\n  from      shore in \"shore.motet\"\n",
		},
		Check: reportProblems,
	}
}
