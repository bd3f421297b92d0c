//go:build !race

package server

// slow is how many times less a long test asks under the race detector, which is off.
const slow = 1
