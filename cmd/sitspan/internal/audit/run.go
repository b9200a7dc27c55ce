package audit

import (
	"context"
	"os"

	"sitspan/cmd/sitspan/internal/audit/archive"
	"sitspan/cmd/sitspan/internal/audit/report"
)

// Plan is an audit to make.
type Plan struct {
	Folder   string
	Out      string // folder of results
	Resume   bool
	Shard    archive.Shard
	Identity archive.Identity // Version, Model and Settings; the rest is filled in
	Bench    archive.Bench
	Review   Review // how the measurements are compared and explained
	// Watch is told how far the run is; it may be nil.
	Watch func(archive.Progress)
}

// Run makes an audit: it lists the folder, measures what is not measured yet, and
// writes the rows, the statistics and the report.
func Run(ctx context.Context, p Plan) (*report.Account, error) {
	if p.Watch == nil {
		p.Watch = func(archive.Progress) {}
	}
	source, r := p.source(), archive.Results{Dir: p.Out}
	if err := source.Check(p.Out); err != nil {
		return nil, err
	}
	unlock, err := r.Open(p.Resume)
	if err != nil {
		return nil, err
	}
	defer unlock()
	id := p.identity()
	if err := r.WriteIdentity(id); err != nil {
		return nil, err
	}
	s, err := archive.NewScratch(r)
	if err != nil {
		return nil, err
	}
	defer s.Remove()
	if err := source.Take(ctx, r, s, id.Key()); err != nil {
		return nil, err
	}
	p.Review.Watch = p.Watch
	return p.Review.write(r, s, id)
}

func (p Plan) source() archive.Source {
	shard := p.Shard
	if shard.Of == 0 {
		shard = archive.Shard{Number: 1, Of: 1}
	}
	return archive.Source{Folder: p.Folder, Shard: shard, Bench: p.Bench, Watch: p.Watch}
}

func (p Plan) identity() archive.Identity {
	id, source := p.Identity, p.source()
	id.Shard, id.Folder = source.Shard.String(), source.Name()
	return id
}

// Merge joins the results of all shards of one audit into out, which must be new
// or empty, and explains them anew: the rows and the statistics are the bytes that
// a single run gives. The shards' folders are only read. A new folder is
// taken away again where the shards cannot be joined.
func Merge(ctx context.Context, dirs []string, out string, v Review) (a *report.Account, err error) {
	id, err := archive.SameAudit(dirs)
	if err != nil {
		return nil, err
	}
	r := archive.Results{Dir: out}
	fresh := !r.Has("")
	unlock, err := r.Open(false)
	if err != nil {
		return nil, err
	}
	defer unlock()
	if fresh {
		defer func() {
			if err != nil {
				_ = os.RemoveAll(out)
			}
		}()
	}
	s, err := archive.NewScratch(r)
	if err != nil {
		return nil, err
	}
	defer s.Remove()
	if err := r.Join(ctx, dirs, s, id); err != nil {
		return nil, err
	}
	return v.write(r, s, id)
}
