package lint

func missingLine() *Rule {
	return &Rule{
		Name: "missing-line", Group: TextGroup, Level: Error,
		Doc: Doc{
			Reports: "A sheet without a length or a rig, a quiver without its band, a family without members.",
			Why:     "Nothing can be shown of a motion that has no end, or of one that has no body.",
			Decides: "A sheet needs `cycle` or `span`, and `rig` unless the rig stands in the same file; one that is made `from` another has them from there. A quiver needs `band`, a family `members`. A broken line of that kind is reported as such and not as missing too. `motet check` notes a file in which nothing stands, or comments alone, which may have been saved so by mistake; an editor, whose new buffers hold nothing, does not.",
			Allow:   "Never.",
			Bad:     "sheet example\n  rig       small in \"small.motet\"\n\ntrack hips\n  at      side\n  0b      2\n",
			Good:    "sheet example\n  rig       small in \"small.motet\"\n  cycle     4b\n\ntrack hips\n  at      side\n  0b      2\n",
		},
		Check: reportProblems,
	}
}
