// Motet checks, tidies and imports motion sheets, and serves editors. See README.md.
package main

import "os"

func main() { os.Exit(run(os.Args[1:], os.Stdin, os.Stdout, os.Stderr)) }
