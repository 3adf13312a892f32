package sim

import "testing"

// What is laid by a fact that is withdrawn comes back; what another cartridge
// of the lot was found to have laid meanwhile stays.
func TestAWithdrawnBeadComesBackAlone(t *testing.T) {
	l := &lot{}
	mine, other := &cartridge{lot: l, left: ul(100)}, &cartridge{lot: l, left: ul(113.5)}
	other.layers = append(other.layers, &layer{planned: true, booked: ul(23.5), volume: ul(23.5)})
	l.laid = ul(23.5)
	w := pass{ml: 17}
	w.really = 17
	mine.draw(w, began)
	other.measure(ul(110)) // 3.5 ml more were laid
	mine.undraw(w)
	if mine.left != ul(100) || l.laid != ul(27) || other.layers[0].volume != ul(27) {
		t.Errorf("left %d, laid of the lot %d, of the layer %d", mine.left, l.laid, other.layers[0].volume)
	}
}
