package listen

import (
	"sync"
	"time"
)

// queue holds sound on its way from the keeper to the follower. When the
// follower falls too far behind, sound is thrown out of it, which has been kept
// by then: who follows must never delay who keeps.
type queue struct {
	mu     sync.Mutex
	change sync.Cond
	blocks [][]byte
	spare  [][]byte
	bytes  int
	most   int // bytes that may wait
	thrown int // bytes thrown out that the follower does not know of yet
	ended  bool
	gone   bool // nobody takes

	bytesPerSecond float64
	began          time.Time
	put            float64 // seconds of sound so far
}

const (
	behindSeconds = 2.0 // how far the follower may fall behind
	aheadSeconds  = 1.0 // how much faster than real time sound must come to be taken for stored
)

func newQueue(f Format) *queue {
	bps := f.Rate * f.frameBytes()
	q := &queue{most: int(behindSeconds * float64(bps)), bytesPerSecond: float64(bps)}
	q.change.L = &q.mu
	return q
}

// offer puts in a copy of the block. If there is no room it waits for some where
// the source can wait, as one that delivers faster than real time obviously can;
// else everything that waits is thrown out.
func (q *queue) offer(block []byte, waits bool) {
	q.mu.Lock()
	defer q.mu.Unlock()
	if q.began.IsZero() {
		q.began = time.Now()
	}
	q.put += float64(len(block)) / q.bytesPerSecond
	if q.gone {
		return
	}
	for q.bytes+len(block) > q.most && q.bytes > 0 {
		if waits || q.put > time.Since(q.began).Seconds()+aheadSeconds {
			q.change.Wait()
			if q.gone {
				return
			}
			continue
		}
		q.thrown += q.bytes
		q.spare = append(q.spare, q.blocks...)
		q.blocks, q.bytes = q.blocks[:0], 0
	}
	var b []byte
	if n := len(q.spare); n > 0 {
		b, q.spare = q.spare[n-1][:0], q.spare[:n-1]
	}
	q.blocks = append(q.blocks, append(b, block...))
	q.bytes += len(block)
	q.change.Broadcast()
}

// abandon says that nobody takes any more: nothing waits for room.
func (q *queue) abandon() {
	q.mu.Lock()
	defer q.mu.Unlock()
	q.gone = true
	q.blocks, q.bytes = nil, 0
	q.change.Broadcast()
}

// end says that no more will be offered.
func (q *queue) end() {
	q.mu.Lock()
	defer q.mu.Unlock()
	q.ended = true
	q.change.Broadcast()
}

// take waits for the next block and reports how many bytes before it were thrown
// out. It reports false when everything has been taken. The block belongs to the
// taker until the next call, which is handed the one before.
func (q *queue) take(done []byte) (block []byte, thrown int, ok bool) {
	q.mu.Lock()
	defer q.mu.Unlock()
	if done != nil {
		q.spare = append(q.spare, done)
	}
	for len(q.blocks) == 0 && !q.ended {
		q.change.Wait()
	}
	thrown, q.thrown = q.thrown, 0
	if len(q.blocks) == 0 {
		return nil, thrown, false
	}
	block = q.blocks[0]
	copy(q.blocks, q.blocks[1:])
	q.blocks = q.blocks[:len(q.blocks)-1]
	q.bytes -= len(block)
	q.change.Broadcast()
	return block, thrown, true
}
