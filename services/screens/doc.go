// Package screens serves the pages that hang on the wall, stand in the booth
// and lie in the bay: the board, the booth and the bay, and a gallery that
// shows each of them from fixed data.
//
// A screen never decides anything. It is handed plain view models by a
// Source, draws them, and hands a person's action back to the same Source.
// What may be pressed, what it is called and what it asks for stands in the
// view model as a Button; what came of it stands in the Result.
//
// What a viewer may rely on:
//
//   - A page shows a prefix of the journal, Picture.Seq, and says how old it
//     is. Rows that changed are sent as they change; rows that did not are
//     never touched, so a press in progress and the focus stay where they are.
//   - A viewer may miss intermediate pictures, never the last one. One that
//     reads too slowly is cut off, connects again and gets every row anew.
//   - A beat arrives each second. CLEAR is shown only after two beats that
//     advance; five seconds of silence turn each gate sign to HOLD and put a
//     band with the picture's age over the page.
//   - A button carries one command id for as long as its page stands, so a
//     press that is sent twice takes effect once.
package screens
