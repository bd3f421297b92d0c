package lint

func misplacedBlock() *Rule {
	return &Rule{
		Name: "misplaced-block", Group: TextGroup, Level: Error,
		Doc: Doc{
			Reports: "A block that stands under the wrong head: one about a rig under a sheet, one about motion under a rig, or one under neither.",
			Why:     "It belongs to nothing, so it moves nothing.",
			Decides: "The blocks behind a `sheet` or a `rig` line belong to it, up to the other one's. `joints`, `channels`, `chains` and `pairs` describe a rig; poses may stand under either; the rest describes motion.",
			Allow:   "Never.",
			Bad:     "joints\n  joint           on              x       y       z\n  belt            .               0       52      0\n",
			Good:    "track hips\n  at      side\n  0b      2\n",
		},
		Check: reportProblems,
	}
}
