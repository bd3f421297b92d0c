package exchange

import (
	"runtime"
	"sync"
)

// eachOf runs do on the numbers below n, several at a time.
func eachOf(n int, do func(k int)) {
	var wait sync.WaitGroup
	free := make(chan struct{}, runtime.GOMAXPROCS(0))
	for k := range n {
		free <- struct{}{}
		wait.Go(func() {
			do(k)
			<-free
		})
	}
	wait.Wait()
}

// eachControl runs do on the channels of each control, several controls at a time.
func (f *figure) eachControl(channels []channel, do func(own []*channel)) {
	var controls [][]*channel
	for i := 0; i < len(channels); {
		var own []*channel
		control := channels[i].control
		for ; i < len(channels) && channels[i].control == control; i++ {
			own = append(own, &channels[i])
		}
		controls = append(controls, own)
	}
	eachOf(len(controls), func(k int) { do(controls[k]) })
}
