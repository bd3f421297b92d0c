package motion

import (
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/motet-sheet/motet/grammar"
)

// demoCast is the demo's base and eleven plain variants of it.
func demoCast(tb testing.TB) []*Motion {
	folder := filepath.Join("..", "..", "testdata", "quay")
	files := map[string]string{}
	for _, name := range []string{"keeper.motet", "quayfolk.motet"} {
		text, err := os.ReadFile(filepath.Join(folder, name))
		if err != nil {
			tb.Fatal(err)
		}
		files[name] = string(text)
	}
	for i := range 11 {
		files[fmt.Sprintf("m%d.motet", i)] = fmt.Sprintf("sheet m%d\n  from keeper-wait in \"keeper.motet\"\n\nchange\n  amplify  hips/*  %d%%\n  scale  spine/lean  %d%%\n  start  %d/3b\n", i, 40+10*i, 150-9*i, i)
	}
	trees := inMemory(files)
	project := NewProject(trees)
	var cast []*Motion
	for i := range 12 {
		name := fmt.Sprintf("m%d.motet", i)
		if i == 11 {
			name = "keeper.motet"
		}
		file, _ := trees(name)
		m := project.Resolve(file)
		if !m.Whole() {
			tb.Fatal(name, m.Problems)
		}
		cast = append(cast, m)
	}
	return cast
}

// plainly times a plain way to the same answer, in the same run.
func plainly(rounds int, plain func()) time.Duration {
	start := time.Now()
	for range rounds {
		plain()
	}
	return time.Since(start) / time.Duration(rounds)
}

// BenchmarkSampled looks at the demo's base 24 times a beat. Its ratio is to asking for each figure by itself.
func BenchmarkSampled(b *testing.B) {
	m := demoCast(b)[11]
	b.ReportAllocs()
	for b.Loop() {
		m.SampledByBeat(24)
	}
	ours := b.Elapsed() / time.Duration(b.N)
	count := m.SampledByBeat(24).Count
	plain := plainly(20, func() {
		for k := range count {
			m.Figure(float64(k) * 0.75)
		}
	})
	b.ReportMetric(float64(ours)/float64(plain), "×figures")
	b.ReportMetric(float64(ours.Nanoseconds())/float64(count), "ns/sample")
}

// BenchmarkCast resolves the demo's own folk, the base and all its variants, and looks at each 24 times a beat. Its ratio
// is to reading their texts.
func BenchmarkCast(b *testing.B) {
	folder := os.DirFS(filepath.Join("..", "..", "testdata", "quay"))
	trees := func(path string) (*grammar.File, error) {
		text, err := fs.ReadFile(folder, path)
		if err != nil {
			return nil, err
		}
		return grammar.Parse(path, string(text)), nil
	}
	names, err := fs.Glob(folder, "*.motet")
	require.NoError(b, err)
	read := map[string]*grammar.File{}
	for _, name := range names {
		if read[name], err = trees(name); err != nil {
			b.Fatal(err)
		}
	}
	kept := func(path string) (*grammar.File, error) {
		if read[path] == nil {
			return nil, fs.ErrNotExist
		}
		return read[path], nil
	}
	sheets, samples := 0, 0
	b.ReportAllocs()
	for b.Loop() {
		sheets, samples = 0, 0
		project := NewProject(kept)
		for _, name := range names {
			m := project.Resolve(read[name])
			if m.Sheet == nil {
				continue // a rig, or the family
			}
			require.True(b, m.Whole(), name)
			sheets, samples = sheets+1, samples+m.SampledByBeat(24).Count
		}
	}
	ours := b.Elapsed() / time.Duration(b.N)
	plain := plainly(5, func() {
		for _, name := range names {
			_, _ = trees(name)
		}
	})
	b.ReportMetric(float64(sheets), "sheets")
	b.ReportMetric(float64(ours.Nanoseconds())/float64(samples), "ns/sample")
	b.ReportMetric(float64(ours)/float64(plain), "×reading")
}

// BenchmarkDistances compares all twelve of a cast. Its ratio is to the definition in the time domain, at every lag of
// whole samples, scaled from the two pairs that it is timed on.
func BenchmarkDistances(b *testing.B) {
	var sampled []*Sampled
	for _, m := range demoCast(b) {
		sampled = append(sampled, m.SampledByBeat(24))
	}
	b.ReportAllocs()
	for b.Loop() {
		members := make([]*Likeness, len(sampled))
		for i, s := range sampled {
			members[i] = s.Likeness()
		}
		Distances(members)
	}
	ours := b.Elapsed() / time.Duration(b.N)
	plain := plainly(1, func() {
		plainDistance(sampled[0], sampled[11])
		plainDistance(sampled[3], sampled[7])
	}) * 66 / 2
	b.ReportMetric(float64(ours)/float64(plain), "×definition")
}

// BenchmarkBestLag compares each channel of the demo's base with each other one. Its ratio is to the definition in the
// time domain, at every lag of whole samples.
func BenchmarkBestLag(b *testing.B) {
	s := demoCast(b)[11].SampledByBeat(24)
	channels := len(s.Motion.Channels)
	b.ReportAllocs()
	for b.Loop() {
		correlator := NewCorrelator(s.Count)
		spectra := make([]*Spectrum, channels)
		for i := range spectra {
			spectra[i] = correlator.Spectrum(s.Channel(i))
			for _, other := range spectra[:i] {
				correlator.BestLag(other, spectra[i])
			}
		}
	}
	ours := b.Elapsed() / time.Duration(b.N)
	plain := plainly(1, func() {
		for i := range channels {
			for j := range i {
				for lag := range s.Count {
					circularCorrelation(s.Channel(j), s.Channel(i), lag)
				}
			}
		}
	})
	b.ReportMetric(float64(ours)/float64(plain), "×definition")
}

// BenchmarkExtrema finds the turns of every channel of the demo's base as it plays. Its ratio is to looking at each
// channel a hundred times a frame, which finds them to a hundredth of a frame.
func BenchmarkExtrema(b *testing.B) {
	m := demoCast(b)[11]
	b.ReportAllocs()
	for b.Loop() {
		for i := range m.Channels {
			m.Extrema(i)
		}
	}
	ours := b.Elapsed() / time.Duration(b.N)
	plain := plainly(1, func() {
		for i := range m.Channels {
			lookedAt(m, &m.Channels[i])
		}
	})
	b.ReportMetric(float64(ours)/float64(plain), "×looking")
}
