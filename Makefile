# Two commands do all the set-up on Debian 12 and Ubuntu 24.04:
#
#   make demo    build, measure the bundled photos, leave overlays in out/demo
#   make test    all tests, lint included
#
# docs/decisions.md says why OpenCV is linked in this way.

BIN     := bin/sitspan
TAGS    := customenv,nodynamic
VERSION := $(shell git describe --tags --always --dirty 2>/dev/null || echo unknown)
GO      := go
RACED   := $(addprefix ./cmd/sitspan/internal/,worker child audit audit/archive) ./cmd/internal/evidence
RACED_OF_DESK    := Children|FullDisk|Panic|UploadsAre|NothingChanges|Guessing|SecretWorks|Stranger|UnkeptMeas|Tablet
RACED_OF_IMPRINT := EachPhotoIsReadOnce|ADottedPadIsMeasured
LINTER  := honnef.co/go/tools/cmd/staticcheck@v0.8.2

# The version comes from git above; Go's own look at git fails in a checkout
# that belongs to another user.
export GOFLAGS := $(filter-out -buildvcs=%,$(GOFLAGS)) -buildvcs=false

# Only the libraries in use are linked, and only their sections in use: all of
# OpenCV takes 0.3 s to load.
export CGO_CPPFLAGS := -I/usr/include/opencv4
export CGO_CFLAGS   := -O2 -g0 -ffunction-sections -fdata-sections
export CGO_CXXFLAGS := --std=c++11 -O2 -g0 -ffunction-sections -fdata-sections
export CGO_LDFLAGS  := -Wl,--gc-sections -Wl,--as-needed -lopencv_core -lopencv_imgproc -lopencv_calib3d -lopencv_features2d -lopencv_dnn

EXTLDFLAGS := -Wl,-z,relro,-z,now

.PHONY: build package static demo test lint scripts test-all test-race test-pure test-leaks evidence speed load-desk deps flags clean

build: deps
	$(GO) build -buildmode=pie -tags $(TAGS) -ldflags "-s -w '-extldflags=$(EXTLDFLAGS)' -X sitspan/cmd/sitspan/internal/intake.Version=$(VERSION)" -o $(BIN) ./cmd/sitspan

# A Debian package for this system and a tarball of the same content, in out/package. Its
# program holds libjpeg: Debian's is libjpeg.so.62 and Ubuntu's libjpeg.so.8.
package: EXTLDFLAGS += -L$(CURDIR)/out/static
package: static build
	@BIN=$(BIN) GO=$(GO) TAGS=$(TAGS) .package/build

static: deps
	@mkdir -p out/static && ln -sf "$$(gcc -print-file-name=libjpeg.a)" out/static/libjpeg.a

# Exit status 3 means that a photo is to be reviewed, which is an answer, too.
demo: build
	$(BIN) measure --trunk 45 --trunk-u 2 --stock testdata/stock.csv --overlay out/demo testdata/photos/*.jpg || test $$? -eq 3
	$(BIN) measure --together --trunk 45 --trunk-u 2 --stock testdata/stock.csv --overlay out/demo testdata/photos/together/*.jpg
	$(BIN) measure --together --trunk 45 --trunk-u 2 --stock testdata/stock.csv --overlay out/demo testdata/photos/dotted/*.jpg
	@echo "The overlays are in out/demo: look at them."

# The last two share no compiled package, and one of them compiles C++ for a
# minute on one core.
test: lint scripts test-all test-race
	@+$(MAKE) --no-print-directory -j2 -Otarget test-pure test-leaks

lint: deps
	@bad=$$($$($(GO) env GOROOT)/bin/gofmt -l calibration cmd fit imprint); test -z "$$bad" || { echo "gofmt would change: $$bad"; exit 1; }
	$(GO) vet -tags $(TAGS) ./...
	$(GO) run $(LINTER) -tags $(TAGS) ./...
	@! command -v python3 >/dev/null || PYTHONPYCACHEPREFIX=out/pycache python3 -m py_compile imprint/relief/train/*.py

# The pages' scripts: a linter and tests, where node is present. Says so where it is not.
scripts:
	@.ci/scripts

test-all: deps
	$(GO) test -tags $(TAGS) ./...

# What works with goroutines, once more under the race detector: the workers, the
# audit, the desk's queue and uploads, and photos that are read together.
test-race: deps
	$(GO) test -race -short -tags $(TAGS) -skip 'MemoryDoesNotGrow|PlotsAreXML|EveryLanguage|CallBacksFit' $(RACED)
	$(GO) test -race -short -tags $(TAGS) -run '$(RACED_OF_DESK)' ./cmd/sitspan/internal/desk
	$(GO) test -race -short -tags $(TAGS) -run '$(RACED_OF_IMPRINT)' ./imprint

# The packages whose tests reach no cgo but Go's own are tested without it, too.
test-pure:
	CGO_ENABLED=0 $(GO) test -tags $(TAGS) $$(GO=$(GO) TAGS=$(TAGS) .ci/pure)

# gocv counts the matrices that are left open.
test-leaks: deps
	$(GO) test -tags $(TAGS),matprofile ./imprint/internal/cv

# The accuracy tables of docs/evidence.md, made again, as Markdown. SETS are
# folders of photos with a truth.jsonl, which testdata/make makes; ARGS=-gauge
# reads foam once more with its depths given.
SETS ?= testdata/known testdata/photos testdata/photos/together testdata/photos/dotted \
	$(patsubst %/truth.jsonl,%,$(wildcard out/sets/*/truth.jsonl))
evidence: build
	@$(GO) run ./cmd/evidence -program $(BIN) $(ARGS) $(SETS)

# The table of docs/speed.md, made again, as Markdown: minutes. Needs python3-opencv and djpeg.
speed: build
	@testdata/make/speed.py --program $(BIN)

# 50 photos of 12 megapixels by 8 clients: minutes, so not a part of test.
load-desk: deps
	SITSPAN_LOAD=1 $(GO) test -tags $(TAGS) -run TestLoad -count=1 -timeout 30m -v ./cmd/sitspan/internal/desk

deps:
	@.ci/deps

# The environment for a plain go command: eval "$(make -s flags)"
flags:
	@printf "export %s='%s'\n" CGO_CPPFLAGS '$(CGO_CPPFLAGS)' CGO_CFLAGS '$(CGO_CFLAGS)' CGO_CXXFLAGS '$(CGO_CXXFLAGS)' CGO_LDFLAGS '$(CGO_LDFLAGS)'

clean:
	rm -rf bin out
