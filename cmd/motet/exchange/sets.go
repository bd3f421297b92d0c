package exchange

// sets are numbers put together, each set known by its least member.
type sets []int

// eachAlone are the numbers below n, none of them together with another.
func eachAlone(n int) sets {
	s := make(sets, n)
	for i := range s {
		s[i] = i
	}
	return s
}

// find is the least member of a number's set.
func (s sets) find(i int) int {
	for s[i] != i {
		i = s[i]
	}
	return i
}

// join makes one of the sets of two numbers.
func (s sets) join(a, b int) {
	a, b = s.find(a), s.find(b)
	s[max(a, b)] = min(a, b)
}
