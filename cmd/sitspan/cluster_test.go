package main

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/goccy/go-yaml"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// standIns lays programs into a folder that stand in for those that a job calls: what
// each was called with is a line of calls, and the program's status is in the file
// status beside it. srun runs its arguments.
func standIns(t *testing.T) (dir string) {
	t.Helper()
	dir = t.TempDir()
	for name, text := range map[string]string{
		"sitspan": `echo "sitspan $*" >> "$CALLS/calls"; out=; last=
			for a in "$@"; do [ "$last" = --out ] && out=$a; last=$a; done
			mkdir -p "$out"; exit "$(cat "$CALLS/status")"`,
		"srun":     `exec "$@"`,
		"scontrol": `echo "scontrol $*" >> "$CALLS/calls"`,
		"sleep":    `:`,
	} {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte("#!/bin/sh\n"+text+"\n"), 0o755))
	}
	return dir
}

// runJob runs a job's shell with stand-ins, and gives its status, what it called and what its log says.
func runJob(t *testing.T, dir string, status int, environment []string, args ...string) (int, string, string) {
	t.Helper()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "status"), fmt.Appendln(nil, status), 0o644))
	require.NoError(t, os.RemoveAll(filepath.Join(dir, "calls")))
	cmd := exec.Command(args[0], args[1:]...)
	cmd.Env = append(environment, "PATH="+dir+":"+os.Getenv("PATH"), "CALLS="+dir)
	cmd.Dir = dir
	out, err := cmd.CombinedOutput()
	calls, readErr := os.ReadFile(filepath.Join(dir, "calls"))
	require.NoError(t, readErr, "%s %v", out, err)
	return cmd.ProcessState.ExitCode(), strings.TrimSpace(string(calls)), string(out)
}

// The tasks of the array make the shards, go on where they stopped, and are tried again
// after a kill, but not after wrong usage and not for ever.
func TestSlurmArray(t *testing.T) {
	script, err := filepath.Abs("../../docs/cluster/audit-array.sbatch")
	require.NoError(t, err)
	dir := standIns(t)
	for _, c := range []struct {
		task, status, restarts, want int
		requeued                     bool
	}{
		{1, 0, 0, 0, false}, {4, 3, 0, 0, false}, {2, 137, 0, 137, true}, {2, 1, 2, 1, true},
		{2, 137, 3, 137, false}, {3, 2, 0, 2, false},
	} {
		got, calls, _ := runJob(t, dir, c.status, []string{
			fmt.Sprintf(
				"SLURM_ARRAY_TASK_ID=%d", c.task,
			), "SLURM_ARRAY_TASK_MIN=1", "SLURM_ARRAY_TASK_COUNT=4", "SLURM_ARRAY_JOB_ID=7",
			"SLURM_CPUS_PER_TASK=2", fmt.Sprintf("SLURM_RESTART_COUNT=%d", c.restarts),
		}, "bash", script, "/archive", "parts", "--medium", "paper")
		want := fmt.Sprintf(
			"sitspan audit --shard %d/4 --resume --workers 2 --out parts/part-%d --medium paper /archive",
			c.task, c.task,
		)
		if c.requeued {
			want += fmt.Sprintf("\nscontrol requeue 7_%d", c.task)
		}
		assert.Equal(t, want, calls, "%+v", c)
		assert.Equal(t, c.want, got, "%+v", c)
	}
}

// The parts are joined; what a killed try left is taken away, and readings that could
// not be used are no failure.
func TestSlurmMerge(t *testing.T) {
	script, err := filepath.Abs("../../docs/cluster/audit-merge.sbatch")
	require.NoError(t, err)
	for status, want := range map[int]int{0: 0, 3: 0, 1: 1} {
		dir := standIns(t)
		for _, name := range []string{"parts/part-1", "parts/part-2", "whole.unfinished/left"} {
			require.NoError(t, os.MkdirAll(filepath.Join(dir, name), 0o755))
		}
		got, calls, log := runJob(t, dir, status, nil, "bash", script, "parts", "whole", "--readings", "cards.csv")
		assert.Equal(
			t, "sitspan audit merge --out whole.unfinished --readings cards.csv parts/part-1 parts/part-2",
			calls,
		)
		assert.Equal(t, want, got)
		assert.NoDirExists(t, filepath.Join(dir, "whole.unfinished/left"))
		if want == 0 {
			assert.DirExists(t, filepath.Join(dir, "whole"))
			assert.Contains(t, log, "moved to   whole\n", "what the audit said of its folder is no longer so")
		}
	}
}

// kubernetesJob is what is looked at of a Job.
type kubernetesJob struct {
	Kind string `yaml:"kind"`
	Spec struct {
		CompletionMode       string `yaml:"completionMode"`
		Completions          int    `yaml:"completions"`
		BackoffLimitPerIndex int    `yaml:"backoffLimitPerIndex"`
		Template             struct {
			Spec struct {
				Containers []struct {
					Command []string `yaml:"command"`
					Args    []string `yaml:"args"`
					Env     []struct {
						Name  string `yaml:"name"`
						Value string `yaml:"value"`
					} `yaml:"env"`
				} `yaml:"containers"`
			} `yaml:"spec"`
		} `yaml:"template"`
	} `yaml:"spec"`
}

// Every index of the Job makes its shard of as many as there are.
func TestKubernetesJob(t *testing.T) {
	text, err := os.ReadFile("../../docs/cluster/audit-job.yaml")
	require.NoError(t, err)
	dir := standIns(t)
	text = bytes.ReplaceAll(text, []byte("/data/"), []byte(dir+"/"))
	var jobs []kubernetesJob
	for decoder := yaml.NewDecoder(bytes.NewReader(text)); ; {
		var j kubernetesJob
		if err := decoder.Decode(&j); err == io.EOF {
			break
		} else {
			require.NoError(t, err)
		}
		jobs = append(jobs, j)
	}
	require.Len(t, jobs, 2)
	audit := jobs[0].Spec
	assert.Equal(t, "Job", jobs[0].Kind)
	assert.Equal(t, "Indexed", audit.CompletionMode)
	assert.Positive(t, audit.BackoffLimitPerIndex)
	c := audit.Template.Spec.Containers[0]
	require.Equal(t, "PARTS", c.Env[0].Name)
	assert.Equal(t, fmt.Sprint(audit.Completions), c.Env[0].Value)
	for i := range audit.Completions {
		_, calls, _ := runJob(
			t,
			dir,
			0,
			[]string{"PARTS=" + c.Env[0].Value, fmt.Sprintf("JOB_COMPLETION_INDEX=%d", i)},
			append(c.Command, c.Args...)...)
		part := fmt.Sprintf("%s/audit/part-%d", dir, i+1)
		assert.Equal(
			t,
			fmt.Sprintf(
				"sitspan audit --shard %d/%d --resume --workers 2 --out %s %s/archive", i+1,
				audit.Completions, part, dir,
			),
			calls,
		)
	}
	c = jobs[1].Spec.Template.Spec.Containers[0]
	status, calls, log := runJob(t, dir, 3, nil, append(c.Command, c.Args...)...)
	assert.Zero(t, status)
	assert.Equal(t, audit.Completions, strings.Count(calls, dir+"/audit/part-"))
	assert.DirExists(t, filepath.Join(dir, "audit/whole"))
	assert.Contains(t, log, "moved to   "+dir+"/audit/whole\n")
}
