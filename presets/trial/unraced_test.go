//go:build !race

package trial_test

const raced = false
