package schedule

// heap orders quantities by activity, the highest first.
type heap struct {
	list []int32
	at   []int32 // index in list by quantity, -1: not in it
}

func (h *heap) add(x int32) {
	h.at = append(h.at, int32(len(h.list)))
	h.list = append(h.list, x)
}

func (h *heap) up(x int32, activity []float64) {
	i := h.at[x]
	if i < 0 {
		return
	}
	for i > 0 {
		p := (i - 1) / 2
		if activity[h.list[p]] >= activity[x] {
			break
		}
		h.list[i] = h.list[p]
		h.at[h.list[i]] = i
		i = p
	}
	h.list[i], h.at[x] = x, i
}

func (h *heap) put(x int32, activity []float64) {
	if h.at[x] >= 0 {
		return
	}
	h.at[x] = int32(len(h.list))
	h.list = append(h.list, x)
	h.up(x, activity)
}

// pop takes the first, -1 where none is left.
func (h *heap) pop(activity []float64) int32 {
	if len(h.list) == 0 {
		return -1
	}
	top := h.list[0]
	h.at[top] = -1
	x := h.list[len(h.list)-1]
	h.list = h.list[:len(h.list)-1]
	if len(h.list) == 0 {
		return top
	}
	i := int32(0)
	for {
		c := 2*i + 1
		if c >= int32(len(h.list)) {
			break
		}
		if c+1 < int32(len(h.list)) && activity[h.list[c+1]] > activity[h.list[c]] {
			c++
		}
		if activity[h.list[c]] <= activity[x] {
			break
		}
		h.list[i] = h.list[c]
		h.at[h.list[i]] = i
		i = c
	}
	h.list[i], h.at[x] = x, i
	return top
}
