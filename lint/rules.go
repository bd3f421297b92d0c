package lint

import "sync"

// Rules lists every rule, in the order in which they are documented. The list is built once, since the rules' documents
// are long; it is not to be changed.
var Rules = sync.OnceValue(func() []*Rule {
	return []*Rule{
		syntaxRule(),
		unknownName(),
		repeatedName(),
		missingLine(),
		misplacedBlock(),
		ring(),
		sameTime(),
		outsideCycle(),
		partCycle(),
		unusedName(),
		outOfOrder(),
		houseSetting(),
		seamGap(),
		seamKink(),
		offBeat(),
		offFrame(),
		unevenBeat(),
		crowded(),
		spareKey(),
		joinGap(),
		joinKink(),
		spin(),
		flip(),
		bulge(),
		outOfRange(),
		overReach(),
		slide(),
		limbSnap(),
		twin(),
		noOverlap(),
		stare(),
		breathRate(),
		tooAlike(),
		opening(),
		otherLength(),
		footHome(),
		inStep(),
		missingClip(),
		lostChannel(),
		openNote(),
	}
})
