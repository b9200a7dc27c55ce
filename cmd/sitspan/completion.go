package main

import "github.com/spf13/cobra"

// completeWords offers a flag's words to the shell. It fails only for a flag
// that does not exist, which a test would see.
func completeWords(cmd *cobra.Command, flag string, words ...string) {
	err := cmd.RegisterFlagCompletionFunc(flag, cobra.FixedCompletions(words,
		cobra.ShellCompDirectiveNoFileComp))
	if err != nil {
		panic(err)
	}
}

// completeFile offers files of some endings, all where none is named.
func completeFile(cmd *cobra.Command, flag string, endings ...string) {
	if err := cmd.MarkFlagFilename(flag, endings...); err != nil {
		panic(err)
	}
}

// completeFolder offers folders.
func completeFolder(cmd *cobra.Command, flag string) {
	if err := cmd.MarkFlagDirname(flag); err != nil {
		panic(err)
	}
}
