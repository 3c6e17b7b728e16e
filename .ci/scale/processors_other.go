//go:build !unix

package main

import "time"

func processors() time.Duration { return 0 }
