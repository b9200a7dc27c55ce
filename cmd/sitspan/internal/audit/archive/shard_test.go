package archive

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestParseShard(t *testing.T) {
	s, err := ParseShard("2/8")
	require.NoError(t, err)
	assert.Equal(t, Shard{2, 8}, s)
	for _, bad := range []string{"", "2", "0/8", "9/8", "a/b", "2/8/3", "-1/2"} {
		_, err := ParseShard(bad)
		assert.ErrorContains(t, err, "such as 2/8", bad)
	}
}
