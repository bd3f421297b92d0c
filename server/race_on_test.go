//go:build race

package server

// slow is how many times less a long test asks under the race detector, which makes everything several times slower.
const slow = 13
