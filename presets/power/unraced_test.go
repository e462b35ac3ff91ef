//go:build !race

package power_test

const raced = false
